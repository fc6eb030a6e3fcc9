"""Addresses of the student's pages."""

from django.urls import URLPattern, URLResolver, path

from submissions.working import checklist_views, offline, sheet_views, step_views, views

urlpatterns: list[URLPattern | URLResolver] = [
    path("work/", views.my_work, name="my-work"),
    path("work/earlier/", views.my_earlier_work, name="my-earlier-work"),
    path("work/<int:pk>/", views.my_assignment, name="my-assignment"),
    path("work/<int:pk>/record/<str:labels>/", views.record, name="record"),
    path("work/<int:pk>/steps/<slug:step>/", step_views.step, name="step"),
    path("work/<int:pk>/steps/<slug:step>/do/", step_views.step_do, name="step-do"),
    path("work/<int:pk>/stuck/", step_views.stuck, name="stuck"),
    path("work/<int:pk>/stuck/<int:stuck>/fine/", step_views.unstick, name="unstick"),
    path("work/<int:pk>/sheet/", sheet_views.my_sheet, name="my-sheet"),
    path("assignments/<int:pk>/sheets/", sheet_views.sheets, name="sheets"),
    path("band/checklists/", checklist_views.checklists, name="checklists"),
    path("band/checklists/<int:section>/", checklist_views.checklist, name="checklist"),
    path("band/checklists/<int:section>/usual/", checklist_views.usual, name="checklist-usual"),
    path("sw.js", offline.worker, name="service-worker"),
    path("work/not-here/<slug:language>/", offline.not_here, name="not-here"),
]
