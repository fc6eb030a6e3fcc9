"""All addresses."""

from django.urls import include, path

from bandroom.views import home

urlpatterns = [
    path("", home, name="home"),
    path("", include("bandroom.people.urls")),
    path("", include("exercises.urls")),
    path("", include("submissions.urls")),
]
