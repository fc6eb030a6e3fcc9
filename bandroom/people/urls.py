"""Addresses of people: signing in, the band, its sections, seats and staff."""

from django.urls import URLPattern, URLResolver, path

from bandroom.people.views import (
    bands,
    cards,
    families,
    passwords,
    reading,
    roster_import,
    sections,
    sign_in,
    staff,
    students,
)

app_name = "people"
urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-in/staff/", sign_in.sign_in_staff, name="sign-in-staff"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("reading/", reading.set_reading, name="set-reading"),
    path("welcome/<str:uid>/<str:token>/", passwords.set_password_by_link, name="set-password"),
    path("password/", passwords.password, name="password"),
    path("bands/", bands.choose_band, name="choose-band"),
    path("band/", bands.band, name="band"),
    path("band/settings/", bands.settings, name="settings"),
    path("band/sections/new/", sections.section_new, name="section-new"),
    path("band/sections/<int:pk>/", sections.section, name="section"),
    path("band/sections/<int:pk>/move/", sections.section_move, name="section-move"),
    path("band/sections/<int:pk>/remove/", sections.section_remove, name="section-remove"),
    path("band/students/new/", students.student_new, name="student-new"),
    path("band/students/<int:pk>/", students.student, name="student"),
    path("band/students/<int:pk>/name/", students.student_name, name="student-name"),
    path("band/students/<int:pk>/recording/", students.student_recording, name="student-recording"),
    path("band/students/<int:pk>/leave/", students.student_leave, name="student-leave"),
    path("band/students/<int:pk>/come-back/", students.student_come_back, name="student-come-back"),
    path("band/students/<int:pk>/seats/", students.seat_new, name="seat-new"),
    path("band/students/<int:pk>/export/", families.student_export, name="student-export"),
    path("band/students/<int:pk>/erase/", families.student_erase, name="student-erase"),
    path("band/seats/<int:pk>/change/", students.seat_change, name="seat-change"),
    path("band/seats/<int:pk>/end/", students.seat_end, name="seat-end"),
    path("band/recording/", students.permissions, name="permissions"),
    path("band/staff/", staff.staff, name="staff"),
    path("band/staff/<int:pk>/link/", staff.staff_link, name="staff-link"),
    path("band/staff/<int:pk>/end/", staff.staff_end, name="staff-end"),
    path("band/cards/", cards.cards, name="cards"),
    path("band/cards/print/", cards.cards_print, name="cards-print"),
    path("band/import/", roster_import.roster_import, name="import"),
    path("band/import/preview/", roster_import.import_preview, name="import-preview"),
    path("band/import/apply/", roster_import.import_apply, name="import-apply"),
]
