"""No page that a student can see says a word in English once Spanish is chosen.

The catalogue is real; each of its sentences comes with ⟦ and ⟧ around it, so that a sentence nobody marked
stands bare on the page. What people typed (names, titles, notes) is all that may.
"""

import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from urllib.parse import urljoin, urlsplit

import pytest
from django.contrib.auth.tokens import default_token_generator
from django.template.loader import render_to_string
from django.test import Client
from django.urls import resolve
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.timezone import now
from django.utils.translation import override

from bandroom.people.models import Band, Membership, RecordingPermission, Role, Seat, User
from bandroom.people.paper import Paper
from exercises.fingerings import fingering_settings
from exercises.models import FingeringChoice
from exercises.music.fingering_tables import rows_of
from submissions.assigning.rubrics import default_rubric
from submissions.models import Assignment, Booking, Mark, Return, Routes, Slot, Take, TurnIn
from submissions.takes.words import DELETED
from submissions.turn_ins import services as turn_ins
from submissions.working.paper.sheets import Reader, sheets_html
from tests import factories
from tests.translation.marking import left_in_english, texts_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("marked_spanish")]
SignIn = Callable[[User], Client]
HOUR, DAY = timedelta(hours=1), timedelta(days=1)

#: What is typed by people or is a name of its own.
TYPED = ("Bandroom", "English", "Español", "Harrow Bend Band", "Stepping Stones", "Ada", "Imre", "Tester")
TYPED += (
    "Practise line A first.",
    "Band room",
    "https://bandroom.example/call",
    "Steady beat.",
    "Name it first",
)
TYPED += ("half notes",)


@pytest.fixture
def director(director: Membership, band: Band) -> Membership:
    """One whose band has all of the clarinet's fingerings confirmed."""
    rows = rows_of("clarinet", settings=fingering_settings(band)).values()
    FingeringChoice.objects.bulk_create(
        FingeringChoice(band=band, instrument="clarinet", row_id=row.id, confirmed_at=now())
        for choices in rows
        for row in choices
    )
    return director


def post_work(
    seat: Seat, *, opens: timedelta = DAY, due: timedelta = 2 * DAY, routes: Routes = Routes.EITHER
) -> Assignment:
    """Opened so long ago, due so long from now, marked by the standard rubric, with a note."""
    band, at = seat.section.band, now()
    assignment = factories.make_assignment(
        band=band,
        sections=[seat.section],
        opens_at=at - opens,
        due_at=at + due,
        closes_at=at + max(due, timedelta(0)) + 3 * DAY,
        routes=routes,
        rubric=default_rubric(band=band, at=at),
    )
    assignment.note = "Practise line A first."
    assignment.save(update_fields=["note"])
    return assignment


def take_of(seat: Seat, assignment: Assignment, **more: object) -> Take:
    given = {"state": Take.State.READY, "seconds": 12.0, "served": "one", "served_type": "audio/wav"} | more
    return Take.objects.create(
        assignment=assignment,
        seat=seat,
        lines=["A"],
        declared_at=now() - HOUR,
        declared_bytes=100,
        declared_sha256="0" * 64,
        **given,
    )


def give_back(seat: Seat, assignment: Assignment, director: User, *, state: TurnIn.State) -> None:
    row = turn_ins.open_live(seat=seat, posting=assignment.postings.get(), by=director, at=now())
    criteria = list(assignment.rubric.criteria.all())
    for line, criterion in [(line, criterion) for line in "AB" for criterion in criteria]:
        level = criterion.levels.first() if criterion != criteria[0] else None
        Mark.objects.create(
            turn_in=row, attempt=1, line=line, criterion=criterion, level=level, given_at=now()
        )
    Return.objects.create(
        turn_in=row,
        attempt=1,
        worked="Steady beat.",
        next_step="Name it first",
        look_at="B2",
        returned_at=now(),
        returned_by=director,
        asks_again=state is TurnIn.State.REDO,
    )
    TurnIn.objects.filter(pk=row.pk).update(state=state)


def make_slot(band: Band, seat: Seat, *, starts: timedelta, **more: object) -> Slot:
    given = {"place": "Band room"} | more
    slot = Slot.objects.create(
        band=band, starts_at=now() + starts, ends_at=now() + starts + timedelta(minutes=5), **given
    )
    slot.sections.add(seat.section)
    return slot


def booked(slot: Slot, seat: Seat, **more: object) -> Booking:
    Slot.objects.filter(pk=slot.pk).update(taken=1)
    return Booking.objects.create(slot=slot, seat=seat, booked_at=now() - DAY, changed_at=now() - DAY, **more)


@pytest.fixture
def world(band: Band, seat: Seat, director: Membership) -> Seat:
    """A student with work in every state, and times in every state."""
    due, late, missing, redo, marked, excused, waiting = (post_work(seat) for _ in range(7))
    Assignment.objects.filter(pk=due.pk).update(created_by=director.user)
    for assignment in (late, missing):
        assignment.postings.update(due_at=now() - DAY)
    own = {"posting": waiting.postings.get(), "seat": seat, "at": now()}
    turn_ins.turn_in(takes={"A": take_of(seat, waiting)}, **own)
    turn_ins.turn_in(takes={"A": take_of(seat, late)}, posting=late.postings.get(), seat=seat, at=now())
    take_of(seat, due, state=Take.State.DECLARED)
    take_of(seat, due, state=Take.State.REFUSED, reason=DELETED)
    turn_ins.excuse(seat=seat, posting=excused.postings.get(), reason="", by=director.user, at=now())
    give_back(seat, redo, director.user, state=TurnIn.State.REDO)
    give_back(seat, marked, director.user, state=TurnIn.State.RETURNED)
    post_work(seat, opens=60 * DAY, due=-50 * DAY)
    Assignment.objects.order_by("-pk").first().postings.update(closes_at=now() - 40 * DAY)
    booked(
        make_slot(band, seat, starts=DAY, link="https://bandroom.example/call", passcode="4711"),
        seat,
        assignment=due,
    )
    booked(make_slot(band, seat, starts=2 * DAY, changed_at=now()), seat, wants_help=True)
    booked(
        make_slot(band, seat, starts=3 * DAY, cancelled_at=now()), seat, assignment=missing, wants_help=True
    )
    booked(make_slot(band, seat, starts=-DAY), seat, assignment=due, state=Booking.State.CAME)
    booked(make_slot(band, seat, starts=-2 * DAY), seat, state=Booking.State.ABSENT)
    make_slot(band, seat, starts=4 * DAY)
    make_slot(band, seat, starts=4 * DAY, place="", capacity=3, link="https://bandroom.example/call")
    make_slot(band, seat, starts=5 * DAY, taken=1)
    return seat


def bare(html: str) -> list[str]:
    return left_in_english(texts_of(html), data=TYPED)


def links_of(html: str, url: str) -> Iterator[str]:
    for part in html.split('href="')[1:]:
        target = urlsplit(urljoin(url, part.partition('"')[0].replace("&amp;", "&")))
        if not target.netloc and not target.path.startswith("/static/"):
            yield target.path + (f"?{target.query}" if target.query else "")


#: Pages under one piece of work: each step of each line, the recorder.
INNER = re.compile(r"/work/(\d+)/.")


def crawl(client: Client, *starts: str, whole: int) -> dict[str, list[str]]:
    """Every page that can be reached, with what it says bare; the steps of one piece of work alone."""
    waiting, seen, found = list(starts), set(starts), {}
    while waiting:
        url = waiting.pop(0)
        response = client.get(url, follow=True)
        if not response.get("Content-Type", "").startswith("text/html"):
            continue
        assert response.status_code == 200, url
        html = response.content.decode()
        assert '<html lang="es">' in html, url
        found[url] = bare(html)
        for link in links_of(html, url):
            inner = INNER.match(link)
            if link not in seen and not (inner and int(inner[1]) != whole):
                seen.add(link)
                waiting.append(link)
    return found


@pytest.fixture
def spanish(sign_in: SignIn) -> SignIn:
    def signed_in(user: User) -> Client:
        client = sign_in(user)
        client.post("/language/", {"language": "es", "next": "/work/"})
        return client

    return signed_in


#: Pages a student can walk to.
WALKED = {"my-work", "my-earlier-work", "my-assignment", "record", "step", "slots", "booking-move"}


def test_every_page_a_student_can_walk_to_is_in_spanish(world: Seat, spanish: SignIn):
    client = spanish(world.student)
    slots = [f"/check-ins/{pk}/" for pk in Slot.objects.values_list("pk", flat=True)]
    due = Assignment.objects.order_by("pk").first()
    pages = crawl(client, "/work/", "/work/not-here/es/", *slots, whole=due.pk)
    assert {url: texts for url, texts in pages.items() if texts} == {}
    assert {resolve(urlsplit(url).path).url_name for url in pages} >= WALKED
    assert len(pages) > 35


@pytest.mark.parametrize("instrument", ["flute", "trombone", "trumpet", "bells", "snare"])
def test_the_steps_of_other_instruments_are_in_spanish(
    band: Band, director: Membership, instrument: str, spanish: SignIn
):
    seat = factories.make_seat(section=factories.make_section(band=band), instrument=instrument)
    routes = Routes.CHECK_IN if instrument == "flute" else Routes.EITHER
    work = post_work(seat, routes=routes)
    pages = crawl(spanish(seat.student), "/work/", whole=work.pk)
    assert {url: texts for url, texts in pages.items() if texts} == {}


def test_what_is_answered_to_a_press_is_in_spanish(world: Seat, spanish: SignIn):
    client = spanish(world.student)
    work = Assignment.objects.order_by("pk").first()
    slot = Slot.objects.filter(place="").get()
    taken = Slot.objects.filter(bookings__isnull=True, taken=1).get()
    presses = [
        (f"/work/{work.pk}/stuck/", {"bar": "A-1"}),
        (f"/work/{work.pk}/steps/signs/do/", {"line": "A", "note": ["0", "1"], "shown": ["2"]}),
        (f"/work/{work.pk}/steps/names/do/", {"line": "A", "tempo": "72"}),
        (f"/work/{work.pk}/steps/ready/do/", {"item": ["Wet your reed."]}),
        ("/check-ins/book/", {"slot": taken.pk, "wants_help": "1"}),
        ("/check-ins/book/", {"wants_help": "1"}),
        ("/check-ins/book/", {"slot": 10**6, "assignment": work.pk}),
        (
            "/check-ins/book/",
            {"slot": slot.pk, "assignment": Assignment.objects.all()[1].pk, "wants_help": "1"},
        ),
        (f"/check-ins/bookings/{Booking.objects.filter(state='booked').first().pk}/cancel/", {}),
        (f"/check-ins/bookings/{Booking.objects.filter(state='came').first().pk}/cancel/", {}),
        ("/check-ins/calendar/", {}),
        ("/check-ins/calendar/end/", {}),
    ]
    for url, data in presses:
        response = client.post(url, data, follow=True)
        assert bare(response.content.decode()) == [], url


def test_a_student_who_may_not_record_reads_spanish(
    band: Band, director: Membership, section: object, spanish: SignIn
):
    seat = factories.make_seat(section=section, recording=RecordingPermission.REFUSED)
    work = post_work(seat)
    pages = crawl(spanish(seat.student), "/work/", f"/work/{work.pk}/record/A/", whole=0)
    assert {url: texts for url, texts in pages.items() if texts} == {}


def test_the_door_is_in_spanish(director: Membership, seat: Seat):
    client = Client(headers={"Accept-Language": "es"})
    second = factories.make_band(name="Harrow Bend Band")
    member = Membership.objects.create(user=seat.student, band=second, role=Role.STUDENT)
    link = f"/welcome/{urlsafe_base64_encode(force_bytes(director.user.pk))}"
    token = default_token_generator.make_token(director.user)
    answers = [
        client.get("/sign-in/?next=/work/"),
        client.post("/sign-in/", {}),
        client.post("/sign-in/", {"username": "ada-1", "word_1": "one two three"}),
        client.get("/sign-in/staff/"),
        client.post("/sign-in/staff/", {}),
        client.post("/sign-in/staff/", {"username": "a@school.example", "password": "wrong"}),
        client.get(f"{link}/{token}/", follow=True),
        client.get(f"{link}/spent/"),
        client.get("/nowhere/"),
        Client(enforce_csrf_checks=True, headers={"Accept-Language": "es"}).post("/sign-in/", {}),
    ]
    for answer in answers:
        assert bare(answer.content.decode()) == [], answer.request["PATH_INFO"]
    client.force_login(member.user, backend="bandroom.people.signing_in.NameBackend")
    assert bare(client.get("/bands/").content.decode()) == []


def test_too_many_tries_and_a_broken_page_are_told_in_spanish():
    client = Client(headers={"Accept-Language": "es"})
    typed = {"username": "ada-1", "word_1": "one", "word_2": "two", "word_3": "three"}
    answer = [client.post("/sign-in/", typed) for _ in range(21)][-1]
    assert answer.status_code == 429
    assert bare(answer.content.decode()) == []
    with override("es"):
        for name in ("500.html", "507.html", "403.html"):
            assert bare(render_to_string(name)) == [], name


@pytest.mark.parametrize("instrument", ["clarinet", "snare"])
def test_the_printed_sheet_is_in_spanish(band: Band, director: Membership, instrument: str):
    seat = factories.make_seat(section=factories.make_section(band=band), instrument=instrument)
    assignment = post_work(seat)
    with override("es"):
        reader = Reader(seat=seat, due_at=now(), may_record=True)
        html = sheets_html(assignment=assignment, readers=[reader], paper=Paper.LETTER)
    assert bare(html) == []
