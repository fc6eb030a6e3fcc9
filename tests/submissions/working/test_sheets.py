"""The printed sheet, and the line a director reads about the steps."""

import io
import re
from collections.abc import Callable
from datetime import timedelta

import pypdf
import pytest
from django.test import Client
from django.utils.timezone import now

from bandroom.people.models import Band, Membership, RecordingPermission, Seat, Section, User
from submissions.models import Assignment, Routes, Step, StepDone
from submissions.working.steps.strip import hint
from tests import factories

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    found = factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=1))
    found.tempos = {"B": 63}
    found.save()
    return found


def words(data: bytes) -> list[str]:
    """The words of each page, as a program that is not ours reads them."""
    return [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(data)).pages]


def test_a_student_prints_the_own_part_with_names_checklist_and_due_date(
    assignment: Assignment, section: Section, band: Band, sign_in: SignIn
):
    seat = factories.make_seat(section=section, instrument="trumpet")
    answer = sign_in(seat.student).get(f"/work/{assignment.pk}/sheet/")
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Cache-Control"] == "private, no-store"
    said = " ".join(words(answer.content))
    due = band.local(assignment.postings.get().due_at)
    for part in (
        "No. 1, Stepping Stones",
        "Trumpet",
        seat.student.full_name,
        f"Due {due:%A} {due.day} {due:%B}",
        "Get ready",
        "Play one long C to tune.",
        "Line B 63 beats a minute",
        "How to play each note",
        "Does it hurt? Stop and rest.",
    ):
        assert part in said
    assert "D E" in said or "C D" in said, "letter names under the notes"


def said_of_tempo(client: Client, url: str) -> list[str]:
    """What the sheet says of the tempo of each line."""
    return re.findall(
        r"\d+ beats a minute(?:\. You may record it from \d+ to \d+\.)?",
        " ".join(words(client.get(url).content)),
    )


def test_a_sheet_says_how_far_from_the_tempo_a_line_may_be_recorded(
    assignment: Assignment, seat: Seat, director: Membership, sign_in: SignIn
):
    assignment.tempos, assignment.tempo_ranges = {"A": 60, "B": 63}, {"B": [54, 72]}
    assignment.save()
    ranged = ["60 beats a minute", "63 beats a minute. You may record it from 54 to 72."]
    assert said_of_tempo(sign_in(seat.student), f"/work/{assignment.pk}/sheet/") == ranged
    of_staff = f"/assignments/{assignment.pk}/sheets/?seat={seat.pk}"
    assert said_of_tempo(sign_in(director.user), of_staff) == ranged


@pytest.mark.parametrize("why_not", ["played live", "not allowed"])
def test_nobody_reads_of_recording_who_cannot_record(
    assignment: Assignment, seat: Seat, sign_in: SignIn, why_not: str
):
    assignment.tempo_ranges = {"B": [54, 72]}
    if why_not == "played live":
        assignment.routes = Routes.CHECK_IN
    else:
        seat.student.memberships.update(recording=RecordingPermission.REFUSED)
    assignment.save()
    student = sign_in(seat.student)
    assert "63 beats a minute" in said_of_tempo(student, f"/work/{assignment.pk}/sheet/")
    assert "You may record it" not in student.get(f"/work/{assignment.pk}/").content.decode()


def test_unconfirmed_fingerings_are_not_printed(assignment: Assignment, seat: Seat, sign_in: SignIn):
    said = " ".join(words(sign_in(seat.student).get(f"/work/{assignment.pk}/sheet/").content))
    assert "How to play each note" not in said


def test_staff_print_one_student_or_a_section(
    assignment: Assignment, section: Section, seat: Seat, substitute: Membership, sign_in: SignIn
):
    other = factories.make_seat(section=section, instrument="snare")
    staff = sign_in(substitute.user)
    one = " ".join(words(staff.get(f"/assignments/{assignment.pk}/sheets/?seat={seat.pk}").content))
    assert seat.student.full_name in one
    assert other.student.full_name not in one
    both = " ".join(words(staff.get(f"/assignments/{assignment.pk}/sheets/?section={section.pk}").content))
    assert seat.student.full_name in both
    assert other.student.full_name in both


def test_strangers_print_nothing(
    assignment: Assignment, section: Section, seat: Seat, director: Membership, sign_in: SignIn
):
    stranger = factories.make_staff(band=factories.make_band())
    url = f"/assignments/{assignment.pk}/sheets/?seat={seat.pk}"
    assert sign_in(stranger.user).get(url).status_code == 404
    assert sign_in(seat.student).get(url).status_code == 404
    assert sign_in(director.user).get(f"/work/{assignment.pk}/sheet/").status_code == 404
    assert sign_in(director.user).get(f"/assignments/{assignment.pk}/sheets/?seat=0").status_code == 404
    assert sign_in(director.user).post(url).status_code == 405
    assert Client().get(url).status_code == 302


def test_a_director_reads_how_far_a_student_came(
    assignment: Assignment, seat: Seat, band: Band, director: Membership, sign_in: SignIn
):
    url = f"/assignments/{assignment.pk}/desk/{seat.pk}/"
    staff = sign_in(director.user)
    assert "Steps:" not in staff.get(url).content.decode()
    at = now()
    for step, finished, detail, hours in (
        (Step.READY, True, {"ticked": []}, 3),
        (Step.SIGNS, False, {"A": {"whole": True}, "B": {"whole": False}}, 1),
        (Step.NAMES, True, {"A": {"whole": True}, "B": {"whole": True}}, 2),
    ):
        StepDone.objects.create(
            assignment=assignment,
            seat=seat,
            step=step,
            finished=finished,
            detail=detail,
            at=at - timedelta(hours=hours),
        )
    day = f"{band.local(at - timedelta(hours=1)):%A}"
    said = hint(assignment=assignment, seat=seat, band=band)
    assert said == (
        f"get ready, say the names done; begun: find the signs (line B). Last find the signs, {day}."
    )
    assert said in staff.get(url).content.decode()
