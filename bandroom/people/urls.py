"""Addresses of people: signing in, the band, its sections, seats and staff."""

from django.urls import URLPattern, URLResolver

app_name = "people"
urlpatterns: list[URLPattern | URLResolver] = []
