"""Addresses of this slice."""

from django.urls import URLPattern, URLResolver, path

from submissions.grading.views import desk, marks, moves, phrases

SEAT = "assignments/<int:pk>/desk/<int:seat>/"

urlpatterns: list[URLPattern | URLResolver] = [
    path("assignments/<int:pk>/desk/", desk.desk, name="desk"),
    path(SEAT, desk.desk_seat, name="desk-seat"),
    path(f"{SEAT}heard/<str:line>/", desk.desk_line, name="desk-line"),
    path(f"{SEAT}mark/", marks.give_mark, name="desk-mark"),
    path(f"{SEAT}note/", marks.keep_note, name="desk-note"),
    path(f"{SEAT}ear/", marks.overrule, name="desk-ear"),
    path(f"{SEAT}return/", moves.send_back, name="desk-return"),
    path(f"{SEAT}excuse/", moves.excuse, name="desk-excuse"),
    path(f"{SEAT}excuse/take-back/", moves.take_back_excuse, name="desk-unexcuse"),
    path(f"{SEAT}live/", moves.open_live, name="desk-live"),
    path(f"{SEAT}live/take-back/", moves.close_live, name="desk-unlive"),
    path(f"{SEAT}reopen/", moves.reopen, name="desk-reopen"),
    path(f"{SEAT}lateness/", moves.lateness, name="desk-lateness"),
    path("phrases/", phrases.phrases, name="phrases"),
    path("phrases/add/", phrases.phrase_add, name="phrase-add"),
    path("phrases/<int:pk>/", phrases.phrase_edit, name="phrase-edit"),
    path("phrases/<int:pk>/move/", phrases.phrase_move, name="phrase-move"),
    path("phrases/<int:pk>/delete/", phrases.phrase_delete, name="phrase-delete"),
]
