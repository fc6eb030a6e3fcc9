"""Overview, history and export."""

import csv
import io
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils.timezone import now

from bandroom.people.models import Band, Membership, Role, Seat, Section, User
from submissions.models import Assignment, Mark, Return, Stuck, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    return factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=2))


@pytest.fixture
def desk(director: Membership, sign_in: SignIn) -> Client:
    return sign_in(director.user)


def mark(
    seat: Seat, assignment: Assignment, *, by: User, levels: tuple[int | None, ...], attempt: int = 1
) -> TurnIn:
    """All marks of one attempt in page order: line A, then line B, each criterion; returned."""
    posting = assignment.postings.get(section=seat.section)
    row = turn_ins.open_live(seat=seat, posting=posting, by=by, at=now() - timedelta(days=1))
    criteria = list(assignment.rubric.criteria.all())
    places = [(line, criterion) for line in "AB" for criterion in criteria]
    for (line, criterion), value in zip(places, levels, strict=True):
        level = None if value is None else criterion.levels.get(value=value)
        Mark.objects.create(
            turn_in=row, attempt=attempt, line=line, criterion=criterion, level=level, given_at=now()
        )
    Return.objects.create(turn_in=row, attempt=attempt, next_step="Slower", returned_at=now(), returned_by=by)
    TurnIn.objects.filter(pk=row.pk).update(state=TurnIn.State.RETURNED, attempt=attempt)
    return row


def read_csv(client: Client, url: str) -> list[dict[str, str]]:
    response = client.get(url)
    assert response.status_code == 200
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    return list(csv.DictReader(io.StringIO(response.content.decode("utf-8-sig"), newline="")))


def test_the_overview_counts_every_state_by_section(
    desk: Client, band: Band, section: Section, assignment: Assignment, director: Membership
):
    seats = [factories.make_seat(section=section) for _ in range(4)]
    posting = assignment.postings.get()
    turn_ins.open_live(seat=seats[0], posting=posting, by=director.user, at=now())
    mark(seats[1], assignment, by=director.user, levels=(4, 4, 4, 4))
    turn_ins.excuse(seat=seats[2], posting=posting, reason="", by=director.user, at=now())
    Stuck.objects.create(assignment=assignment, seat=seats[3], line="B", bar=5, at=now())
    html = " ".join(desk.get(f"/assignments/{assignment.pk}/").content.decode().split())
    for words in (
        "1 waiting",
        "1 marked",
        "1 excused",
        "1 not yet",
        "none missing",
        "2 of 3",
        "line B, bar 5",
    ):
        assert words in html, words


@pytest.mark.parametrize("seats", [1, 30])
def test_the_overview_costs_the_same_for_one_seat_and_for_thirty(
    desk: Client, section: Section, assignment: Assignment, seats: int, django_assert_num_queries
):
    for _ in range(seats):
        factories.make_seat(section=section)
    with django_assert_num_queries(16):
        desk.get(f"/assignments/{assignment.pk}/")


def test_marks_as_csv_hold_one_row_a_student_with_every_level(
    desk: Client, band: Band, section: Section, assignment: Assignment, director: Membership
):
    seat = factories.make_seat(
        section=section, student=factories.make_user(first_name="=Ada", last_name="Quist")
    )
    factories.make_seat(section=section, student=factories.make_user(first_name="Bo", last_name="Zell"))
    mark(seat, assignment, by=director.user, levels=(4, 3, None, 2))
    ada, bo = read_csv(desk, f"/assignments/{assignment.pk}/marks.csv")
    assert ada["First name"] == "'=Ada"
    assert [ada[f"{line} {name}"] for line in "AB" for name in ("Right notes", "Steady rhythm")] == [
        "4",
        "3",
        "not yet",
        "2",
    ]
    assert (ada["State"], ada["Total"], ada["Highest total"], ada["Attempt"]) == ("marked", "", "16", "1")
    assert (bo["State"], bo["Total"], bo["A Right notes"]) == ("not yet", "", "")


def test_marks_that_were_not_returned_are_not_exported(
    desk: Client, seat: Seat, assignment: Assignment, director: Membership
):
    mark(seat, assignment, by=director.user, levels=(4, 4, 4, 4))
    Return.objects.update(returned_at=None)
    (row,) = read_csv(desk, f"/assignments/{assignment.pk}/marks.csv")
    assert (row["Total"], row["A Right notes"]) == ("", "")


def test_the_term_has_a_column_an_assignment_and_words_where_there_is_no_total(
    desk: Client, band: Band, seat: Seat, section: Section, assignment: Assignment, director: Membership
):
    past = factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=9))
    coming = factories.make_assignment(band=band, sections=[section], opens_at=now() + timedelta(days=9))
    withdrawn = factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=9))
    Assignment.objects.filter(pk=withdrawn.pk).update(withdrawn_at=now())
    mark(seat, assignment, by=director.user, levels=(4, 4, 4, 4))
    (row,) = read_csv(desk, "/marks.csv")
    assert row[f"{assignment} (of 16)"] == "16"
    assert row[f"{past} (of 16)"] == "missing"
    assert not any(str(other) in head for other in (coming, withdrawn) for head in row)


def test_a_students_history_shows_the_attempt_that_counts(
    desk: Client, seat: Seat, assignment: Assignment, director: Membership
):
    mark(seat, assignment, by=director.user, levels=(2, 2, 2, 2))
    TurnIn.objects.update(state=TurnIn.State.WAITING)
    mark(seat, assignment, by=director.user, levels=(4, 4, 4, 4), attempt=2)
    student = Membership.objects.get(user=seat.student)
    html = " ".join(desk.get(f"/students/{student.pk}/").content.decode().split())
    assert html.count('<span class="mark__n">4</span>') == 4
    assert '<span class="mark__n">2</span>' not in html
    assert "played 2 times" in html


@pytest.mark.parametrize("assignments", [1, 30])
def test_a_history_costs_the_same_for_one_assignment_and_for_thirty(
    desk: Client, band: Band, seat: Seat, section: Section, assignments: int, django_assert_num_queries
):
    exercise, rubric = factories.make_exercise(band=band), factories.make_rubric(band=band)
    for _ in range(assignments):
        factories.make_assignment(
            band=band,
            sections=[section],
            opens_at=now() - timedelta(days=2),
            exercise=exercise,
            rubric=rubric,
        )
    student = Membership.objects.get(user=seat.student)
    with django_assert_num_queries(12):
        desk.get(f"/students/{student.pk}/")


def test_a_substitute_may_see_but_not_export(
    substitute: Membership, sign_in: SignIn, seat: Seat, assignment: Assignment
):
    client = sign_in(substitute.user)
    student = Membership.objects.get(user=seat.student)
    assert client.get(f"/assignments/{assignment.pk}/").status_code == 200
    assert client.get(f"/students/{student.pk}/").status_code == 200
    assert client.get(f"/assignments/{assignment.pk}/marks.csv").status_code == 404
    assert client.get("/marks.csv").status_code == 404


def test_strangers_get_404_and_other_methods_405(
    desk: Client, sign_in: SignIn, seat: Seat, assignment: Assignment
):
    student = Membership.objects.get(user=seat.student)
    other = factories.make_staff(band=factories.make_band(), role=Role.DIRECTOR)
    for url in (
        f"/assignments/{assignment.pk}/",
        f"/students/{student.pk}/",
        f"/assignments/{assignment.pk}/marks.csv",
    ):
        assert sign_in(other.user).get(url).status_code == 404
        assert sign_in(seat.student).get(url).status_code == 404
        assert desk.post(url).status_code == 405


def test_the_history_of_a_director_is_no_page(desk: Client, director: Membership):
    assert desk.get(f"/students/{director.pk}/").status_code == 404
