"""Addresses of exercises and parts."""

from django.urls import URLPattern, URLResolver, path

from exercises.views import (
    bringing,
    fingerings,
    listing,
    paper,
    parts,
    patterns,
    ranges,
    seat_ranges,
    writing,
)

app_name = "exercises"
urlpatterns: list[URLPattern | URLResolver] = [
    path("exercises/", listing.exercises, name="exercises"),
    path("exercises/new/", writing.write, name="write"),
    path("exercises/new/file/", bringing.bring_in, name="bring-in"),
    path("exercises/new/lines/", bringing.sort, name="sort"),
    path("exercises/new/pattern/", patterns.pattern, name="pattern"),
    path("exercises/new/pattern/look/", patterns.look_at_pattern, name="look-at-pattern"),
    path("exercises/new/look/", writing.look, name="look"),
    path("exercises/<int:pk>/edit/", writing.edit, name="edit"),
    path("exercises/<int:pk>/put-away/", listing.put_away, name="put-away"),
    path("exercises/<int:pk>/take-out/", listing.take_out, name="take-out"),
    path("exercises/<int:pk>/", parts.exercise, name="exercise"),
    path("exercises/<int:pk>/print/", paper.print_parts, name="print"),
    path("exercises/<int:pk>/score.musicxml", paper.score_file, {"kind": "musicxml"}, name="score-musicxml"),
    path("exercises/<int:pk>/score.mid", paper.score_file, {"kind": "mid"}, name="score-midi"),
    path("exercises/<int:pk>/parts/<slug:instrument>/", parts.part, name="part"),
    path("exercises/<int:pk>/parts/<slug:instrument>/decide/", parts.decide, name="decide"),
    path(
        "exercises/<int:pk>/parts/<slug:instrument>.musicxml",
        paper.part_file,
        {"kind": "musicxml"},
        name="part-musicxml",
    ),
    path(
        "exercises/<int:pk>/parts/<slug:instrument>.mid", paper.part_file, {"kind": "mid"}, name="part-midi"
    ),
    path("exercises/ranges/", ranges.ranges, name="ranges"),
    path("exercises/ranges/<slug:instrument>/usual/", ranges.usual_range, name="usual-range"),
    path("exercises/ranges/seats/<int:pk>/", seat_ranges.seat_range, name="seat-range"),
    path("exercises/ranges/seats/<int:pk>/band/", seat_ranges.range_of_the_band, name="range-of-the-band"),
    path("fingerings/", fingerings.fingerings, name="fingerings"),
    path("fingerings/settings/", fingerings.part_settings, name="part-settings"),
    path("fingerings/<slug:instrument>/", fingerings.fingering_page, name="fingering-page"),
    path("fingerings/<slug:instrument>/confirm/", fingerings.confirm_fingerings, name="confirm-fingerings"),
    path("fingerings/<slug:instrument>/<int:midi>/", fingerings.fingering_note, name="fingering-note"),
]
