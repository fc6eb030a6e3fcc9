"""All addresses."""

from django.urls import include, path

from bandroom.health import alive, ready
from bandroom.views import home, set_language

urlpatterns = [
    path("", home, name="home"),
    path("alive", alive, name="alive"),
    path("ready", ready, name="ready"),
    path("language/", set_language, name="set-language"),
    path("", include("bandroom.people.urls")),
    path("", include("exercises.urls")),
    path("", include("submissions.urls")),
]
