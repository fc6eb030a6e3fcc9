"""Addresses of assignments, takes, check-ins and marks; each slice lists its own."""

from django.urls import URLPattern, URLResolver

from submissions.assigning.urls import urlpatterns as assigning
from submissions.checkins.urls import urlpatterns as checkins
from submissions.followup.urls import urlpatterns as followup
from submissions.grading.urls import urlpatterns as grading
from submissions.live.urls import urlpatterns as live
from submissions.takes.urls import urlpatterns as takes
from submissions.working.urls import urlpatterns as working

app_name = "submissions"
urlpatterns: list[URLPattern | URLResolver] = [
    *assigning,
    *checkins,
    *live,
    *takes,
    *grading,
    *followup,
    *working,
]
