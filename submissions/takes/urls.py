"""Addresses of takes."""

from django.urls import URLPattern, URLResolver, path

from submissions.takes.views import declaring, playing, sending

urlpatterns: list[URLPattern | URLResolver] = [
    path("work/<int:pk>/takes/", declaring.declare, name="declare"),
    path("work/<int:pk>/turn-in/", declaring.turn_in, name="turn-in"),
    path("uploads/", sending.uploads, name="uploads"),
    path("uploads/<uuid:take_pk>/", sending.upload, name="upload"),
    path("takes/<uuid:take_pk>/", declaring.take, name="take"),
    path("takes/<uuid:take_pk>/sound", playing.sound, name="sound"),
    path("takes/<uuid:take_pk>/original", playing.original, name="original"),
]
