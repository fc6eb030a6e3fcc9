"""Addresses of the student's pages."""

from django.urls import URLPattern, URLResolver, path

from submissions.working import offline
from submissions.working.views import checklists, sheets, steps, work

urlpatterns: list[URLPattern | URLResolver] = [
    path("work/", work.my_work, name="my-work"),
    path("work/earlier/", work.my_earlier_work, name="my-earlier-work"),
    path("work/<int:pk>/", work.my_assignment, name="my-assignment"),
    path("work/<int:pk>/record/<str:labels>/", work.record, name="record"),
    path("work/<int:pk>/steps/<slug:step>/", steps.step, name="step"),
    path("work/<int:pk>/steps/<slug:step>/do/", steps.step_do, name="step-do"),
    path("work/<int:pk>/stuck/", steps.stuck, name="stuck"),
    path("work/<int:pk>/stuck/<int:stuck>/fine/", steps.unstick, name="unstick"),
    path("work/<int:pk>/sheet/", sheets.my_sheet, name="my-sheet"),
    path("assignments/<int:pk>/sheets/", sheets.sheets, name="sheets"),
    path("band/checklists/", checklists.checklists, name="checklists"),
    path("band/checklists/<int:section>/", checklists.checklist, name="checklist"),
    path("band/checklists/<int:section>/usual/", checklists.usual, name="checklist-usual"),
    path("sw.js", offline.worker, name="service-worker"),
    path("work/not-here/<slug:language>/", offline.not_here, name="not-here"),
]
