"""What most of a section missed, on the overview and on the board."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils.timezone import now
from lxml import html

from bandroom.people.models import Band, Membership, Role, Seat, Section, User
from submissions.models import Assignment, Hearing, Take, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories
from tests.submissions.grading.conftest import make_take
from tests.submissions.grading.evidence import NOT_HEARD, evidence, make_hearing, other

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]
# Concert B flat, C, D, B flat as factories have them, for instruments that sound them in that octave.
SOUNDING = {"A": [58, 60, 62, 58], "B": [58, 60, 62, 58] * 2}
TO_WRITTEN_OCTAVE = {"clarinet": 0, "flute": 24, "alto_sax": 0, "tenor_sax": 0}


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    return factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=2))


@pytest.fixture
def desk(director: Membership, sign_in: SignIn) -> Client:
    return sign_in(director.user)


def play(
    seat: Seat,
    assignment: Assignment,
    slips: dict[int, Any],
    *,
    line: str = "B",
    version: str = "1",
    **hearing: Any,
) -> Hearing:
    """A take of one line turned in by this student, and heard."""
    take = make_take(seat=seat, assignment=assignment, lines=(line,), at=now())
    posting = assignment.postings.get(section=seat.section)
    turn_ins.turn_in(seat=seat, posting=posting, takes={line: take}, at=now())
    return hear(take, slips, line=line, version=version, **hearing)


def hear(take: Take, slips: dict[int, Any], *, line: str, version: str = "1", **hearing: Any) -> Hearing:
    shift = TO_WRITTEN_OCTAVE[take.seat.instrument]
    sounding = [midi + shift for midi in SOUNDING[line]]
    starts = [float(n) for n in range(len(sounding))]
    heard = {"evidence": evidence(sounding=sounding, starts=starts, slips=slips)}
    return make_hearing(take=take, line=line, engine_version=version, **(heard | hearing))


def missed(client: Client, assignment: Assignment, query: str = "") -> Any:
    response = client.get(f"/assignments/{assignment.pk}/{query}")
    assert response.status_code == 200
    [found] = html.fromstring(response.content.decode()).cssselect('section[aria-labelledby="missed"]')
    return found


def board(client: Client, assignment: Assignment, query: str = "") -> Any:
    response = client.get(f"/assignments/{assignment.pk}/board/{query}")
    assert response.status_code == 200
    return html.fromstring(response.content.decode())


def text(node: Any) -> str:
    return " ".join(" ".join(node.itertext()).split())


def said(node: Any) -> list[str]:
    return [text(place) for place in node.cssselect(".roots-places > li")]


def test_nobody_heard_yet_is_one_sentence(desk: Client, assignment: Assignment, seat: Seat):
    found = missed(desk, assignment)
    assert (
        f"Nobody in {seat.section} has been heard on line B yet. "
        "This fills in by itself as takes come in and are listened to."
    ) in text(found)
    assert found.cssselect("svg") == []


def test_an_assignment_without_students_says_so(desk: Client, band: Band):
    empty = factories.make_assignment(band=band, sections=[], opens_at=now() - timedelta(days=2))
    assert "Nobody plays this yet" in text(missed(desk, empty))
    assert "Nobody plays this yet" in text(board(desk, empty))


def test_a_section_is_drawn_twice_and_said(desk: Client, section: Section, assignment: Assignment):
    """Written C, D, E, C: four of five play E flat for E in bar 1."""
    for slips in [{2: other(-1, "Eb4")}] * 4 + [{}]:
        play(factories.make_seat(section=section), assignment, slips)
    factories.make_seat(section=section)
    found = missed(desk, assignment)
    assert text(found.cssselect("h2")[0]) == f"What most in {section.name} missed"
    assert text(found.cssselect(".roots-said")[0]) == (
        "4 of 5 likely played a sharp or flat that is not on the page, most of all in bar 1."
    )
    assert said(found) == [
        "1 Bar 1, beat 3: 4 of 5 played E flat. "
        "Likely from habit: neither the key nor a sign on the page makes this E so. "
        "Tomorrow: play E and E flat back to back, then bar 1."
    ]
    assert "5 of 6 heard so far." in text(found.cssselect(".roots-legend")[0])
    assert [text(item) for item in found.cssselect("ul.said li")] == [
        "Bar 1, beat 3, E: 4 missed it (4 the same other note)."
    ]
    for kind in ("only-wide", "only-narrow"):
        [svg] = found.cssselect(f"svg.{kind}")
        assert svg.get("aria-label") == (
            f"Line B for {section}, with how many missed each note; in words below"
        )
        assert len(svg.cssselect("rect.roots__tick")) == 4
    ids = [node.get("id") for node in found.iter() if node.get("id")]
    assert len(ids) == len(set(ids))


def test_only_the_take_that_counts_is_counted(desk: Client, seat: Seat, assignment: Assignment):
    play(seat, assignment, {2: NOT_HEARD})
    play(seat, assignment, {})  # turned in again: the first take does not count any more
    hear(make_take(seat=seat, assignment=assignment, lines=("B",), at=now()), {2: NOT_HEARD}, line="B")
    found = missed(desk, assignment)
    assert "The one player heard so far played every note as written." in text(found)
    assert found.cssselect("figure rect.roots__tick") == []


def test_the_newest_version_of_the_listener_is_shown(desk: Client, seat: Seat, assignment: Assignment):
    old = play(seat, assignment, {2: NOT_HEARD}, version="1")
    hear(old.take, {}, line="B", version="2")
    hear(old.take, {}, line="B", version="3", state=Hearing.State.RUNNING, evidence=None)
    assert "played every note as written" in text(missed(desk, assignment))


def test_the_directors_ear_is_heard(desk: Client, seat: Seat, assignment: Assignment):
    play(seat, assignment, {2: other(-1, "Eb4")}, overruled={"2": "as_written"})
    assert "played every note as written" in text(missed(desk, assignment))


@pytest.mark.parametrize("state", [TurnIn.State.EXCUSED, TurnIn.State.EMPTY])
def test_what_was_taken_back_or_excused_is_not_counted(
    desk: Client, seat: Seat, assignment: Assignment, state: TurnIn.State
):
    play(seat, assignment, {2: NOT_HEARD})
    TurnIn.objects.update(state=state)
    assert "has been heard on line B yet" in text(missed(desk, assignment))


def test_lines_and_instruments_are_plain_links_that_keep_each_other(
    desk: Client, section: Section, assignment: Assignment
):
    alto = [factories.make_seat(section=section, instrument="alto_sax") for _ in range(2)]
    tenor = factories.make_seat(section=section, instrument="tenor_sax")
    for seat in alto:
        play(seat, assignment, {2: NOT_HEARD})
    play(tenor, assignment, {1: NOT_HEARD}, line="A")
    found = missed(desk, assignment)
    assert text(found.cssselect("h2")[0]) == f"What most in {section.name} missed Alto sax"
    here = f"?line=B&section={section.pk}&instrument="
    assert [(a.get("href"), text(a), a.get("aria-current")) for a in found.cssselect(".roots-pick a")] == [
        (f"{here}alto_sax#missed", f"{section}: Alto sax, 2 of 2 heard", "true"),
        (f"{here}tenor_sax#missed", f"{section}: Tenor sax, 0 of 1 heard", None),
    ]
    assert [(a.get("href"), a.get("aria-current")) for a in found.cssselect("nav.switch a")] == [
        (f"?line=A&section={section.pk}&instrument=alto_sax#missed", None),
        (f"{here}alto_sax#missed", "true"),
    ]
    other_line = missed(desk, assignment, f"?line=A&section={section.pk}&instrument=tenor_sax")
    assert "1 of 1 heard so far." in text(other_line)


def test_a_section_of_another_band_or_a_made_up_line_changes_nothing(
    desk: Client, seat: Seat, assignment: Assignment
):
    play(seat, assignment, {})
    strange = factories.make_section(band=factories.make_band(), name="Strangers")
    query = f"?line=Z&section={strange.pk}&instrument=%3Cb%3E"
    found = missed(desk, assignment, query)
    assert text(found.cssselect("h2")[0]) == f"What most in {seat.section.name} missed"
    assert "Strangers" not in text(found)


def test_sections_are_counted_each_for_itself(desk: Client, band: Band, section: Section):
    flutes = factories.make_section(band=band, name="Flutes")
    assignment = factories.make_assignment(
        band=band, sections=[section, flutes], opens_at=now() - timedelta(days=2)
    )
    for _ in range(3):
        play(factories.make_seat(section=section), assignment, {2: NOT_HEARD})
    for _ in range(2):
        play(factories.make_seat(section=flutes, instrument="flute"), assignment, {})
    assert "3 of 3 not heard" in text(missed(desk, assignment))
    found = missed(desk, assignment, f"?line=B&section={flutes.pk}")
    assert "All 2 heard so far played every note as written." in text(found)


def test_the_board_shows_the_line_large_and_no_students_name(
    desk: Client, section: Section, assignment: Assignment
):
    for name in ("Wilhelmina", "Ottoline", "Peregrine"):
        student = factories.make_user(first_name=name, last_name=f"Of{name}")
        play(factories.make_seat(section=section, student=student), assignment, {2: NOT_HEARD})
    page = board(desk, assignment, f"?line=B&section={section.pk}")
    assert text(page.cssselect("h1")[0]) == f"Stepping Stones, line B {section}"
    assert len(page.cssselect("svg.only-wide rect.roots__tick")) == 3
    assert "3 of 3 not heard." in said(page)[0]
    whole = html.tostring(page, encoding="unicode")
    for name in ("Wilhelmina", "Ottoline", "Peregrine", "Imre"):
        assert name not in whole
    assert page.cssselect(".strip") == []


def test_of_fewer_than_three_players_the_board_shows_the_part_alone(
    desk: Client, section: Section, assignment: Assignment
):
    """With two, everybody would know whose slip it is."""
    for _ in range(2):
        play(factories.make_seat(section=section), assignment, {2: NOT_HEARD})
    page = board(desk, assignment)
    assert len(page.cssselect("svg.line")) == 2
    assert page.cssselect("rect.roots__tick") == []
    assert said(page) == []
    assert "not heard" not in text(page)
    assert len(missed(desk, assignment).cssselect("svg.only-wide rect.roots__tick")) == 2


@pytest.mark.parametrize("players", [1, 30])
def test_overview_and_board_cost_the_same_for_one_player_and_for_thirty(
    desk: Client, section: Section, assignment: Assignment, players: int, django_assert_num_queries
):
    for _ in range(players):
        play(factories.make_seat(section=section), assignment, {2: NOT_HEARD})
    desk.get(f"/assignments/{assignment.pk}/")  # the part is engraved once
    with django_assert_num_queries(18):
        desk.get(f"/assignments/{assignment.pk}/")
    with django_assert_num_queries(17):
        desk.get(f"/assignments/{assignment.pk}/board/")


def test_the_board_is_for_staff_of_the_band_alone(
    desk: Client, sign_in: SignIn, substitute: Membership, seat: Seat, assignment: Assignment
):
    url = f"/assignments/{assignment.pk}/board/"
    stranger = factories.make_staff(band=factories.make_band(), role=Role.DIRECTOR)
    assert sign_in(substitute.user).get(url).status_code == 200
    for user in (stranger.user, seat.student):
        assert sign_in(user).get(url).status_code == 404
    assert Client().get(url).status_code == 302
    assert desk.post(url).status_code == 405
