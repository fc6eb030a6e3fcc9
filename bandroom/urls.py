"""All addresses."""

from django.urls import include, path

from bandroom.views import home, set_language

urlpatterns = [
    path("", home, name="home"),
    path("language/", set_language, name="set-language"),
    path("", include("bandroom.people.urls")),
    path("", include("exercises.urls")),
    path("", include("submissions.urls")),
]
