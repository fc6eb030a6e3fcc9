"""Addresses of this slice."""

from django.urls import URLPattern, URLResolver, path

from submissions.live import views

BOOKING = "check-ins/bookings/<int:pk>/"

urlpatterns: list[URLPattern | URLResolver] = [
    path("check-ins/<int:pk>/", views.slot, name="slot"),
    path(f"{BOOKING}here/", views.booking_here, name="booking-here"),
    path(f"{BOOKING}absent/", views.booking_absent, name="booking-absent"),
    path(f"{BOOKING}back/", views.booking_back, name="booking-back"),
    path(f"{BOOKING}helped/", views.booking_helped, name="booking-helped"),
    path(f"{BOOKING}return/", views.booking_return, name="booking-return"),
]
