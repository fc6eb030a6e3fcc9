"""The roster: counted, filtered, in seats and as a list, at the same cost for any size."""

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now
from lxml import html

from bandroom.people.models import Band, Membership, Section
from submissions.models import Assignment, Booking, Posting, Slot, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories
from tests.submissions.grading.conftest import steps, turn_in_both
from tests.submissions.grading.evidence import evidence, make_hearing, unsure

pytestmark = pytest.mark.django_db
# session, user, membership, assignment; then the roster's seven; marks begun
ROSTER_QUERIES = 12
EAR_QUERIES = ROSTER_QUERIES + 1


def address(assignment: Assignment, **query: str) -> str:
    return reverse("submissions:desk", args=[assignment.pk], query=query)


def read(response) -> html.HtmlElement:
    assert response.status_code == 200
    return html.fromstring(response.content)


def counted(page: html.HtmlElement) -> dict[str, str]:
    return {
        " ".join(a.text_content().split()[:-1]): a.text_content().split()[-1]
        for a in page.cssselect(".hall__legend a")
    }


def listed(page: html.HtmlElement) -> list[str]:
    return [a.text_content() for a in page.cssselect(".class-list li a span:nth-of-type(1)")]


@pytest.fixture
def class_of_eight(
    band: Band, section: Section, assignment: Assignment, posting: Posting, director: Membership
) -> dict[str, TurnIn | None]:
    """One student in each state, named after it."""
    in_time, too_late = now() - timedelta(days=2), now() - timedelta(hours=1)
    seats = {
        name: factories.make_seat(section=section, student=factories.make_user(first_name=name))
        for name in ("Wait", "Late", "Done", "Redo", "Miss", "Live", "Free", "Begun")
    }
    rows: dict[str, TurnIn | None] = dict.fromkeys(seats)
    for name in ("Wait", "Done", "Redo", "Begun"):
        rows[name] = turn_in_both(seat=seats[name], posting=posting, at=in_time)
    rows["Late"] = turn_in_both(seat=seats["Late"], posting=posting, at=too_late)
    TurnIn.objects.filter(pk=rows["Done"].pk).update(state="returned")
    TurnIn.objects.filter(pk=rows["Redo"].pk).update(state="redo")
    turn_ins.excuse(seat=seats["Free"], posting=posting, reason="repair", by=director.user, at=now())
    slot = Slot.objects.create(
        band=band, starts_at=now() + timedelta(days=1), ends_at=now() + timedelta(days=2)
    )
    Booking.objects.create(
        slot=slot, seat=seats["Live"], assignment=assignment, booked_at=now(), changed_at=now()
    )
    criterion, levels = next(iter(steps(assignment).items()))
    rows["Begun"].marks.create(
        attempt=1, line="A", criterion=criterion, level=levels[0], given_by=director.user, given_at=now()
    )
    return rows


@pytest.mark.usefixtures("class_of_eight")
def test_every_state_is_counted_at_a_glance(desk: Client, assignment: Assignment):
    page = read(desk.get(address(assignment)))
    assert counted(page) == {
        "waiting": "2",
        "late": "1",
        "marked": "1",
        "play again": "1",
        "not in": "1",
        "live": "1",
        "excused": "1",
    }
    assert "8 students, 3 waiting to be marked" in page.text_content()


@pytest.mark.usefixtures("class_of_eight")
def test_the_band_sits_with_every_state_drawn_and_said(desk: Client, assignment: Assignment):
    page = read(desk.get(address(assignment)))
    seats = {seat.get("aria-label").split()[0]: seat for seat in page.cssselect("svg.band a.seat")}
    signs = {name: seat.cssselect("use")[1].get("href") for name, seat in seats.items()}
    assert signs == {
        "Wait": "#sign-waiting",
        "Begun": "#sign-begun",
        "Late": "#sign-late",
        "Done": "#sign-marked",
        "Redo": "#sign-redo",
        "Miss": "#sign-missing",
        "Live": "#sign-live",
        "Free": "#sign-excused",
    }
    says = {name: seat.get("aria-label").split(": ", 1)[1] for name, seat in seats.items()}
    assert says["Miss"] == "missing, nothing in by the due time"
    assert says["Free"] == "excused, repair"
    assert says["Late"].startswith("late, waiting to be marked, ")
    assert says["Begun"].startswith("waiting to be marked, marking begun, ")
    assert len(page.cssselect('[data-rove="seats"]')) == 1


@pytest.mark.usefixtures("class_of_eight")
def test_under_the_seats_stands_who_waits(desk: Client, assignment: Assignment):
    page = read(desk.get(address(assignment)))
    assert sorted(name.split()[0] for name in listed(page)) == ["Begun", "Late", "Wait"]
    assert page.cssselect(".podium a.btn")[0].text_content().split()[:2] == ["Mark", "Wait"]


@pytest.mark.usefixtures("class_of_eight")
def test_the_list_is_the_plain_way_to_everybody(desk: Client, assignment: Assignment):
    page = read(desk.get(address(assignment, view="list")))
    assert len(listed(page)) == 8
    assert page.cssselect("svg.band") == []
    assert len(page.cssselect('[data-rove="list"]')) == 1


@pytest.mark.usefixtures("class_of_eight")
@pytest.mark.parametrize(
    ("state", "names"), [("late", ["Late"]), ("not-in", ["Miss"]), ("redo", ["Redo"]), ("live", ["Live"])]
)
def test_a_state_shows_only_its_own(desk: Client, assignment: Assignment, state: str, names: list[str]):
    page = read(desk.get(address(assignment, state=state)))
    assert [name.split()[0] for name in listed(page)] == names
    [pressed] = page.cssselect('.hall__legend [aria-current="true"]')
    assert pressed.text_content().split()[-1] == "1"


def test_section_and_instrument_narrow_the_roster_and_travel_along(
    desk: Client, band: Band, assignment: Assignment, section: Section, in_time: datetime
):
    horns = factories.make_section(band=band, name="Horns", period="5")
    factories.make_seat(section=section)
    tuba = factories.make_seat(section=section, instrument="tuba")
    assignment.postings.create(
        section=horns,
        opens_at=now() - timedelta(days=4),
        due_at=now() - timedelta(days=1),
        closes_at=now() + timedelta(days=3),
    )
    horn = factories.make_seat(section=horns, instrument="horn")
    shown = read(desk.get(address(assignment, view="list", instrument="tuba")))
    assert listed(shown) == [tuba.student.full_name]
    shown = read(desk.get(address(assignment, view="list", section=str(horns.pk))))
    assert listed(shown) == [horn.student.full_name]
    href = shown.cssselect(".class-list a")[0].get("href")
    assert href.endswith(f"?view=list&section={horns.pk}")
    shown = read(desk.get(address(assignment, period="5")))
    assert len(shown.cssselect("svg.band a.seat")) == 1


def test_nobody_waiting_is_said_kindly(desk: Client, assignment: Assignment, section: Section):
    assert "Nobody sits in these sections yet." in read(desk.get(address(assignment))).text_content()
    factories.make_seat(section=section)
    assert "Whoever turns something in appears here" in read(desk.get(address(assignment))).text_content()
    narrowed = read(desk.get(address(assignment, state="redo"))).text_content()
    assert "Nobody in this choice." in narrowed


def test_needs_your_ear_first(
    desk: Client, assignment: Assignment, section: Section, posting: Posting, in_time: datetime
):
    need = {"Calm": 0, "Loud": 2, "Some": 1}
    for name, count in need.items():
        seat = factories.make_seat(section=section, student=factories.make_user(first_name=name))
        turn_in = turn_in_both(seat=seat, posting=posting, at=in_time)
        make_hearing(
            take=turn_in.counting.get(line="A").take,
            line="A",
            evidence=evidence(sounding=[60] * 4, starts=range(4), slips={n: unsure() for n in range(count)}),
            queued_at=in_time,
            finished_at=in_time,
        )
    seat = factories.make_seat(section=section, student=factories.make_user(first_name="Unheard"))
    turn_in_both(seat=seat, posting=posting, at=in_time)
    page = read(desk.get(address(assignment, order="ear")))
    assert [name.split()[0] for name in listed(page)] == ["Loud", "Some", "Calm", "Unheard"]
    assert "2 for your ear" in page.text_content()
    assert page.cssselect(".podium a.btn")[0].text_content().split()[:2] == ["Mark", "Loud"]


@pytest.mark.parametrize("seats", [1, 30, 200])
@pytest.mark.parametrize("view", ["seats", "list"])
def test_the_roster_costs_the_same_for_any_size(
    desk: Client,
    section: Section,
    assignment: Assignment,
    posting: Posting,
    in_time: datetime,
    seats: int,
    view: str,
    django_assert_num_queries: Callable[..., object],
):
    for _ in range(seats):
        turn_in_both(seat=factories.make_seat(section=section), posting=posting, at=in_time)
    with django_assert_num_queries(ROSTER_QUERIES):
        desk.get(address(assignment, view=view))
    with django_assert_num_queries(EAR_QUERIES):
        desk.get(address(assignment, view=view, order="ear"))


def test_a_very_large_band_is_listed_one_class_period_at_a_time(desk: Client, band: Band):
    sections = [factories.make_section(band=band, name="Brass", period=period) for period in ("1", "2")]
    for section, count in zip(sections, (155, 150), strict=True):
        for _ in range(count):
            factories.make_seat(section=section)
    large = factories.make_assignment(band=band, sections=sections, opens_at=now() - timedelta(days=1))
    first, second = (read(desk.get(address(large, view="list", **more))) for more in ({}, {"period": "2"}))
    assert (len(listed(first)), len(listed(second))) == (155, 150)
    assert "Period 1" in [heading.text_content() for heading in first.cssselect("h2")]
    assert any("period=2" in link.get("href", "") for link in first.cssselect(".switch a"))


def test_the_roster_never_asks_for_a_take(
    desk: Client, assignment: Assignment, waiting: TurnIn, django_assert_num_queries
):
    with django_assert_num_queries(ROSTER_QUERIES) as asked:
        response = desk.get(address(assignment))
    # whether one can be played is read along with what counts; what is in it is nobody's business here
    of_takes = [q["sql"] for q in asked.captured_queries if "submissions_take" in q["sql"]]
    assert not [sql for sql in of_takes if 'FROM "submissions_take"' in sql or "peaks" in sql]
    assert b"<audio" not in response.content


def test_only_reading_is_allowed(desk: Client, assignment: Assignment):
    assert desk.post(address(assignment)).status_code == 405
