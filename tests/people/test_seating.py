"""Every chair has a place of its own, whatever the size of the band."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bandroom.people.seating import (
    LABEL_HEIGHT,
    MOST_NAMED_ROWS,
    NAMED_CHAIR,
    NARROWEST,
    PLAIN_CHAIR,
    ChairName,
    Seating,
    SectionSeats,
    chair_name,
    printed_label,
    seat_places,
)

BAND = (
    ("Flute", 8), ("Oboe", 2), ("Clarinet", 10), ("Bass clarinet", 1), ("Bassoon", 1), ("Alto saxophone", 6),
    ("Tenor saxophone", 2), ("Bari saxophone", 1), ("Horn", 3), ("Trumpet", 8), ("Trombone", 5), ("Tuba", 2),
    ("Percussion", 5),
)  # fmt: skip


def band(times: int = 1) -> list[SectionSeats]:
    return [SectionSeats(name, count * times) for name, count in BAND]


def overlapping(seating: Seating) -> list[tuple[int, int]]:
    """Pairs of chairs whose boxes share any area, by plain comparison of every pair."""
    wide, high = seating.chair
    seats = sorted(seating.places, key=lambda place: place.x)
    found = []
    for i, one in enumerate(seats):
        for j in range(i + 1, len(seats)):
            if seats[j].x - one.x >= wide - 0.11:  # places are rounded to a tenth
                break
            if abs(seats[j].y - one.y) < high - 0.11:
                found.append((i, j))
    return found


def assert_sound(seating: Seating, sections: list[SectionSeats]) -> None:
    expected = {(index, seat) for index, section in enumerate(sections) for seat in range(section.count)}
    assert {(place.section, place.seat) for place in seating.places} == expected
    assert len(seating.places) == len(expected)
    assert overlapping(seating) == []
    wide, high = seating.chair
    for place in seating.places:
        assert wide / 2 <= place.x <= seating.width - wide / 2
        assert high / 2 <= place.y <= seating.height - high / 2


@pytest.mark.parametrize("count", [1, 2, 3, 7, 15, 40, 64, 65, 100, 333, 1000])
def test_one_section_of_any_size_has_a_place_for_everyone(count: int) -> None:
    sections = [SectionSeats("Clarinet", count)]
    assert_sound(seat_places(sections), sections)


@pytest.mark.parametrize("times", [1, 2, 3, 6, 18])
def test_a_whole_band_has_a_place_for_everyone(times: int) -> None:
    assert_sound(seat_places(band(times)), band(times))


@given(st.lists(st.tuples(st.text(min_size=0, max_size=60), st.integers(0, 70)), max_size=16))
def test_no_roster_makes_chairs_overlap(rows: list[tuple[str, int]]) -> None:
    sections = [SectionSeats(name, count) for name, count in rows]
    assert_sound(seat_places(sections), sections)


@given(st.integers(int(NARROWEST), 3000), st.integers(1, 120))
def test_any_width_holds_the_band(width: int, count: int) -> None:
    sections = [SectionSeats("Low brass and everybody else", count), SectionSeats("Flute", count)]
    assert_sound(seat_places(sections, width=width), sections)


def test_a_class_of_fifty_four_shows_names_in_four_rows_within_the_hall() -> None:
    seating = seat_places(band())
    assert (seating.named, seating.chair) == (True, NAMED_CHAIR)
    assert max(place.row for place in seating.places) == MOST_NAMED_ROWS - 1
    assert seating.height <= 225


def test_a_band_too_big_for_names_shows_signs_alone() -> None:
    seating = seat_places(band(3))
    assert (seating.named, seating.chair) == (False, PLAIN_CHAIR)


def test_more_rows_make_the_drawing_taller_and_never_wider() -> None:
    small, big = seat_places(band(2)), seat_places(band(18))
    assert small.width == big.width == 1440
    assert big.height > small.height


def test_sections_sit_in_the_order_given_front_row_first() -> None:
    rows = [
        min(p.row for p in seat_places(band()).places if p.section == index) for index in range(len(BAND))
    ]
    assert rows == sorted(rows)
    assert rows[0] == 0


def test_the_front_row_is_nearest_to_the_podium() -> None:
    places = seat_places(band()).places
    middle = [min((p for p in places if p.row == row), key=lambda p: abs(p.x - 720)).y for row in range(4)]
    assert middle == sorted(middle, reverse=True)


def test_a_section_that_goes_on_behind_is_named_there_again() -> None:
    seating = seat_places([SectionSeats("Clarinet", 60)])
    assert [label.again for label in seating.labels] == [False] + [True] * (len(seating.labels) - 1)
    assert len(seating.labels) == len({place.row for place in seating.places})


@pytest.mark.parametrize(
    ("first_name", "text", "small"),
    [
        ("Ada", "Ada", False),
        ("Rosalie", "Rosalie", False),
        ("Alexander", "Alexander", True),
        ("William", "William", False),
        ("Chukwuemeka", "Chukwu…", True),
        ("Anne Marie", "Anne M…", True),
        ("王", "王", False),
        ("", "", False),
    ],
)
def test_a_first_name_is_written_smaller_or_cut_where_its_chair_is_too_narrow(
    first_name: str, text: str, small: bool
) -> None:
    assert chair_name(first_name) == ChairName(text=text, small=small)


def test_names_keep_clear_of_chairs() -> None:
    seating = seat_places(band())
    wide, high = seating.chair
    for label in seating.labels:
        half = max(wide, 6.9 * len(label.text)) / 2
        for place in seating.places:
            beside = abs(place.x - label.x) >= half + wide / 2 - 0.11
            apart = abs(place.y - label.y) >= (high + LABEL_HEIGHT) / 2 - 0.11
            assert beside or apart, (label, place)


def test_a_long_name_is_shortened_in_the_drawing() -> None:
    assert printed_label("Period 2 low brass and low winds") == "Period 2 low bras…"
    assert printed_label("Clarinet") == "Clarinet"


def test_a_section_without_seats_is_not_drawn() -> None:
    seating = seat_places([SectionSeats("Oboe", 0), SectionSeats("Flute", 2)])
    assert [label.text for label in seating.labels] == ["Flute"]


def test_an_empty_band_is_an_empty_hall() -> None:
    seating = seat_places([])
    assert (seating.places, seating.labels, seating.risers) == ((), (), ())
    assert seating.height > 0


def test_a_width_no_band_fits_in_is_refused_with_the_least_one() -> None:
    with pytest.raises(ValueError, match="give at least 500"):
        seat_places(band(), width=100)
