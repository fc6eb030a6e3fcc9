"""Addresses of exercises and parts."""

from django.urls import URLPattern, URLResolver

app_name = "exercises"
urlpatterns: list[URLPattern | URLResolver] = []
