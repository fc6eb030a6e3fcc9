"""Addresses of this slice."""

from django.urls import URLPattern, URLResolver, path

from submissions.checkins.views import booking, calendar, making, slots

BOOKING = "check-ins/bookings/<int:pk>/"

urlpatterns: list[URLPattern | URLResolver] = [
    path("check-ins/", slots.slots, name="slots"),
    path("check-ins/new/", making.slots_new, name="slots-new"),
    path("check-ins/book/", booking.book, name="book"),
    path("check-ins/for/<int:assignment>/<int:seat>/", booking.book_for, name="book-for"),
    path("check-ins/calendar/", calendar.feed_new, name="calendar-new"),
    path("check-ins/calendar/end/", calendar.feed_end, name="calendar-end"),
    path("check-ins/<int:pk>/edit/", making.slot_edit, name="slot-edit"),
    path("check-ins/<int:pk>/cancel/", making.slot_cancel, name="slot-cancel"),
    path("check-ins/<int:pk>/delete/", making.slot_delete, name="slot-delete"),
    path("check-ins/<int:pk>/check-in.ics", calendar.slot_file, name="slot-file"),
    path(f"{BOOKING}move/", booking.booking_move, name="booking-move"),
    path(f"{BOOKING}cancel/", booking.booking_cancel, name="booking-cancel"),
    path("calendar/<str:secret>.ics", calendar.feed, name="calendar"),
]
