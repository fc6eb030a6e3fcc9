"""Addresses of this slice: overview, history, records."""

from django.urls import URLPattern, URLResolver, path

from submissions.followup import views

urlpatterns: list[URLPattern | URLResolver] = [
    path("assignments/<int:pk>/", views.assignment, name="assignment"),
    path("assignments/<int:pk>/board/", views.board, name="board"),
    path("assignments/<int:pk>/marks.csv", views.export, name="export"),
    path("marks.csv", views.export_term, name="export-term"),
    path("students/<int:pk>/", views.history, name="history"),
]
