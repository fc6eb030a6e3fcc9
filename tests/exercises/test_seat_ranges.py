"""One student's own range: a director sets it, wall, part and desk judge by it, no student sees it."""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, Seat, Section
from bandroom.people.services.families import erase_student, export_files
from exercises.models import Exercise, ExerciseLine, SeatRange
from exercises.music.instruments import INSTRUMENTS
from exercises.music.part import RangeVerdict
from exercises.pages.seat_ranges import out_of_reach
from exercises.pages.wall import PartStanding, WallRow, wall_of
from tests import factories
from tests.conftest import NOW
from tests.exercises.pages import text_of

pytestmark = pytest.mark.django_db
#: The trumpet's line A is written C4 D4 | E4 C4. This beginner has C4 and D4.
TWO_NOTES = {"low": "C4", "easy_low": "C4", "easy_high": "D4", "high": "D4"}


@pytest.fixture
def beginner(section: Section) -> Seat:
    student = factories.make_user(first_name="Ada", last_name="Marsh")
    return factories.make_seat(section=section, instrument="trumpet", student=student)


def address(seat: Seat, name: str = "seat-range") -> str:
    return reverse(f"exercises:{name}", args=[seat.pk])


def row_of(exercise: Exercise, label: str = "A", instrument: str = "trumpet") -> WallRow:
    line = ExerciseLine.objects.get(exercise=exercise, label=label)
    (row,) = wall_of(line=line, instruments=[Instrument(instrument)]).rows
    return row


def test_people_and_engine_agree_on_who_plays_pitches() -> None:
    assert [each for each in Instrument if each.is_pitched] == [
        name for name, instrument in INSTRUMENTS.items() if instrument.pitched
    ]


def test_a_range_is_set_followed_and_given_back(
    client: Client, exercise: Exercise, beginner: Seat, director: Membership
) -> None:
    page = text_of(client.get(address(beginner)))
    assert "What Ada Marsh can reach" in page
    assert "As your band: A3 to C5, easy from C4 to G4." in page
    answer = text_of(client.post(address(beginner), TWO_NOTES, follow=True))
    assert "Ada Marsh: the range is saved. Students do not see it." in answer
    assert f'<a href="{address(beginner)}">Ada Marsh</a>: C4 to D4, easy from C4 to D4' in answer
    own = SeatRange.objects.get()
    assert (own.seat, own.changed_by) == (beginner, director.user)
    client.post(address(beginner), TWO_NOTES | {"high": "e4"})
    assert SeatRange.objects.get().high == "E4"
    back = client.post(address(beginner, "range-of-the-band"), follow=True)
    assert "the range of the band holds again" in text_of(back)
    assert not SeatRange.objects.exists()


def test_the_wall_and_the_part_say_for_whom_it_is_outside(
    client: Client, exercise: Exercise, beginner: Seat, section: Section
) -> None:
    factories.make_seat(section=section, instrument="trumpet")
    assert row_of(exercise).standing is PartStanding.FITS
    client.post(address(beginner), TWO_NOTES)
    row = row_of(exercise)
    assert (row.standing, row.outside) == (PartStanding.LOOK, ())
    assert [(reach.student, reach.says) for reach in row.beyond] == [
        ("Ada Marsh", "1 of 4 above D4, the highest taught note")
    ]
    assert row_of(exercise, instrument="clarinet").beyond == ()
    wall = text_of(client.get(f"/exercises/{exercise.pk}/"))
    assert "Outside for Ada Marsh: 1 of 4 above D4, the highest taught note" in wall
    assert "Allow here" in wall
    part = text_of(client.get(f"/exercises/{exercise.pk}/parts/trumpet/"))
    assert "<b>Ada Marsh:</b> outside, E4 in bar 2, beat 1" in part
    # a yes to the part is a yes for this student too, and stays in words
    client.post(f"/exercises/{exercise.pk}/parts/trumpet/decide/", {"do": "accept", "line": "A"})
    assert row_of(exercise).standing is PartStanding.FITS
    assert "Outside for Ada Marsh, allowed" in text_of(client.get(f"/exercises/{exercise.pk}/"))


def test_a_range_wider_than_the_bands_is_never_outside(
    client: Client, exercise: Exercise, beginner: Seat
) -> None:
    client.post(address(beginner), {"low": "C3", "easy_low": "C3", "easy_high": "C6", "high": "C6"})
    assert row_of(exercise).beyond == ()
    assert "<b>Ada Marsh:</b> fits" in text_of(client.get(f"/exercises/{exercise.pk}/parts/trumpet/"))


def test_the_desk_says_it_beside_the_student(
    client: Client, exercise: Exercise, beginner: Seat, section: Section
) -> None:
    assignment = factories.make_assignment(band=exercise.band, exercise=exercise, sections=[section])
    desk = reverse("submissions:desk-seat", args=[assignment.pk, beginner.pk])
    assert "outside the range of" not in text_of(client.get(desk))
    client.post(address(beginner), TWO_NOTES)
    page = text_of(client.get(desk))
    assert "Line A is outside the range of Ada</b>, E4 in bar 2, beat 1." in page
    lines = list(exercise.lines.all())
    assert {reach.verdict for reach in out_of_reach(lines=lines, seat=beginner)} == {RangeVerdict.OUTSIDE}


def test_no_page_of_the_student_says_it(
    client: Client, exercise: Exercise, beginner: Seat, section: Section, sign_in: Callable[..., Client]
) -> None:
    assignment = factories.make_assignment(band=exercise.band, exercise=exercise, sections=[section])
    own = sign_in(beginner.student)
    where = reverse("submissions:my-assignment", args=[assignment.pk])
    before = text_of(own.get(where))
    client.post(address(beginner), TWO_NOTES)
    after = text_of(own.get(where))
    assert "reach" not in after
    assert before.count("<svg") == after.count("<svg")
    assert own.get(address(beginner)).status_code == 404


def test_a_seat_that_ended_or_has_no_pitch_is_404_and_says_nothing(
    client: Client, exercise: Exercise, beginner: Seat, section: Section
) -> None:
    client.post(address(beginner), TWO_NOTES)
    beginner.until = beginner.since
    beginner.save(update_fields=["until"])
    assert client.get(address(beginner)).status_code == 404
    assert row_of(exercise).beyond == ()
    drummer = factories.make_seat(section=section, instrument="snare")
    assert client.get(address(drummer)).status_code == 404


def test_a_wrong_range_is_said_and_nothing_is_kept(client: Client, beginner: Seat) -> None:
    answer = client.post(address(beginner), TWO_NOTES | {"high": "C3"})
    assert answer.status_code == 422
    assert "The four notes go upward" in text_of(answer)
    assert not SeatRange.objects.exists()


def test_a_family_gets_the_range_and_erasing_takes_it(client: Client, band: Band, beginner: Seat) -> None:
    membership = beginner.student.memberships.get()
    assert "ranges.json" not in [file.path for file in export_files(membership=membership)]
    client.post(address(beginner), TWO_NOTES)
    found = {file.path: file for file in export_files(membership=membership)}
    with found["ranges.json"].open() as kept:
        text = kept.read().decode()
    assert '"instrument": "Trumpet"' in text
    assert '"highest_note": "D4"' in text
    erase_student(membership=membership, at=NOW)
    assert not SeatRange.objects.exists()
