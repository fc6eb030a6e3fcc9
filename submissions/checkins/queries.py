"""What the check-in pages read, in a number of queries that does not grow with the band."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any

from django.db.models import Prefetch, QuerySet
from django.utils.translation import gettext as _

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, RecordingPermission, Role, Seat, User
from submissions.assigning.deadlines import day_starts, monday_of
from submissions.models import Booking, Posting, Routes, Slot, Stuck, TurnIn
from submissions.turn_ins.own_work import OwnPosting, own_postings
from submissions.turn_ins.standing import Standing

WEEKS_A_PAGE = 4
#: Nothing more is asked of a student who has one of these.
SETTLED = (TurnIn.State.WAITING, TurnIn.State.RETURNED, TurnIn.State.EXCUSED)


@dataclass(frozen=True, slots=True)
class Booked:
    """One booking as staff see it: what came of it as a sign and a word, and what to know before."""

    booking: Booking
    sign: str
    word: str
    may_record: bool

    @property
    def student(self) -> User:
        return self.booking.seat.student

    @property
    def tab(self) -> str:
        return Instrument(self.booking.seat.instrument).tab

    @property
    def is_to_come(self) -> bool:
        return self.booking.state == Booking.State.BOOKED


@dataclass(frozen=True, slots=True)
class Time:
    slot: Slot
    booked: tuple[Booked, ...]

    @property
    def is_cancelled(self) -> bool:
        return self.slot.cancelled_at is not None


@dataclass(frozen=True)
class Sitting:
    """The times of one series on one day, as a director sits through them."""

    day: date
    times: tuple[Time, ...]

    @property
    def first(self) -> Slot:
        return self.times[0].slot

    @cached_property
    def places(self) -> str:
        """Where it is, if it is the same for all of them."""
        named = {time.slot.place or _("by video") for time in self.times}
        return named.pop() if len(named) == 1 else ""

    @cached_property
    def expected(self) -> tuple[Booked, ...]:
        """Everybody with a place, in the order they are called."""
        return tuple(booked for time in self.times if not time.is_cancelled for booked in time.booked)

    def next_after(self, booking: Booking | None) -> Booked | None:
        """Who is called next: the first still to come after `booking`, else the first still to come."""
        order = [booked.booking.pk for booked in self.expected]
        place = order.index(booking.pk) + 1 if booking is not None and booking.pk in order else 0
        turned = (*self.expected[place:], *self.expected[:place])
        return next(
            (one for one in turned if one.is_to_come and (booking is None or one.booking.pk != booking.pk)),
            None,
        )


def sittings_of_weeks(*, band: Band, monday: date) -> tuple[Sitting, ...]:
    """Four weeks of times from a Monday on the band's calendar; four queries."""
    starts = day_starts(monday, zone=band.zone)
    until = day_starts(monday + timedelta(weeks=WEEKS_A_PAGE), zone=band.zone)
    return _sittings(Slot.objects.filter(band=band, starts_at__gte=starts, starts_at__lt=until), band=band)


def sitting_of(slot: Slot) -> Sitting:
    """The sitting that `slot` is one of."""
    day = slot.band.local(slot.starts_at).date()
    starts = day_starts(day, zone=slot.band.zone)
    until = day_starts(day + timedelta(days=1), zone=slot.band.zone)
    same = Slot.objects.filter(band=slot.band, series=slot.series, starts_at__gte=starts, starts_at__lt=until)
    (sitting,) = _sittings(same, band=slot.band)
    return sitting


def next_time(*, band: Band, at: datetime) -> Slot | None:
    """The time to open: the first with somebody to come that is not over."""
    booked = Booking.objects.filter(
        slot__band=band,
        state=Booking.State.BOOKED,
        slot__cancelled_at__isnull=True,
        slot__ends_at__gt=at,
    )
    first = booked.select_related("slot").order_by("slot__starts_at", "slot_id", "booked_at").first()
    return first.slot if first else None


def this_monday(*, band: Band, at: datetime) -> date:
    return monday_of(band.local(at).date())


def _sittings(slots: QuerySet[Slot], *, band: Band) -> tuple[Sitting, ...]:
    bookings = (
        Booking.objects.exclude(state=Booking.State.CANCELLED)
        .select_related("seat__student", "assignment__exercise")
        .order_by("booked_at", "pk")
    )
    found = list(slots.prefetch_related(Prefetch("bookings", bookings)).order_by("starts_at", "pk"))
    states = _turn_in_states(booking for slot in found for booking in slot.bookings.all())
    no_recording = _not_recording(band)
    groups: dict[tuple[date, Any], list[Time]] = {}
    for slot in found:
        slot.band = band
        booked = tuple(_booked(booking, states, no_recording) for booking in slot.bookings.all())
        groups.setdefault((band.local(slot.starts_at).date(), slot.series), []).append(Time(slot, booked))
    return tuple(Sitting(day=day, times=tuple(times)) for (day, _), times in groups.items())


def _turn_in_states(bookings: Iterable[Booking]) -> dict[tuple[int, int], str]:
    """By assignment and seat."""
    asked = [booking for booking in bookings if booking.assignment_id is not None]
    found = TurnIn.objects.filter(
        assignment__in={booking.assignment_id for booking in asked},
        seat__in={booking.seat_id for booking in asked},
    )
    return {(assignment, seat): state for assignment, seat, state in found.values_list(
        "assignment_id", "seat_id", "state")}  # fmt: skip


def _not_recording(band: Band) -> set[int]:
    """Students who may not record, so that playing live is their way."""
    students = Membership.objects.filter(band=band, role=Role.STUDENT, ended_at__isnull=True)
    return set(students.exclude(recording=RecordingPermission.GRANTED).values_list("user_id", flat=True))


def _booked(booking: Booking, states: dict[tuple[int, int], str], no_recording: set[int]) -> Booked:
    sign, word = "", ""
    if booking.state == Booking.State.ABSENT:
        sign, word = "absent", "did not come"
    elif booking.state == Booking.State.CAME:
        state = states.get((booking.assignment_id or 0, booking.seat_id))
        if booking.assignment_id is None:
            sign, word = "marked", "helped"
        elif state == TurnIn.State.RETURNED:
            sign, word = Standing.MARKED.sign, Standing.MARKED.words
        elif state == TurnIn.State.REDO:
            sign, word = Standing.REDO.sign, Standing.REDO.words
        else:
            sign, word = "begun", "here, marks not returned"
    return Booked(
        booking=booking, sign=sign, word=word, may_record=booking.seat.student_id not in no_recording
    )


# Who needs a live time -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class NeedsTime:
    """A student for whom live is the way, with nothing in and no time booked."""

    posting: Posting
    seat: Seat
    why: str

    @property
    def tab(self) -> str:
        return Instrument(self.seat.instrument).tab


def need_a_time(*, band: Band, at: datetime) -> tuple[NeedsTime, ...]:
    """For what is open now, in score order; six queries, three when nothing open takes check-ins."""
    postings = list(
        Posting.objects.filter(
            assignment__band=band,
            assignment__withdrawn_at__isnull=True,
            opens_at__lte=at,
            closes_at__gt=at,
        )
        .exclude(assignment__routes=Routes.RECORDING)
        .select_related("assignment__exercise")
        .order_by("due_at", "pk")
    )
    if not postings:
        return ()
    assignments = {posting.assignment_id for posting in postings}
    settled = set(
        TurnIn.objects.filter(assignment__in=assignments, state__in=SETTLED).values_list(
            "assignment_id", "seat_id"
        )
    )
    bookings = list(
        Booking.objects.filter(assignment__in=assignments, slot__cancelled_at__isnull=True)
        .exclude(state__in=(Booking.State.CANCELLED, Booking.State.CAME))
        .select_related("slot")
        .order_by("slot__starts_at")
    )
    coming = {
        (b.assignment_id, b.seat_id)
        for b in bookings
        if b.state == Booking.State.BOOKED and b.slot.ends_at > at
    }
    absent = {(b.assignment_id, b.seat_id): b for b in bookings if b.state == Booking.State.ABSENT}
    no_recording = _not_recording(band)
    seats = _seats_by_section(postings, band=band)
    found = []
    for posting in postings:
        due_day = band.local(posting.due_at).date()
        for seat in seats.get(posting.section_id, ()):
            key = (posting.assignment_id, seat.pk)
            held = seat.since <= due_day and (seat.until is None or seat.until >= due_day)
            if not held or key in settled or key in coming:
                continue
            why = _why_live(posting, seat, absent.get(key), no_recording=no_recording, band=band)
            if why:
                found.append(NeedsTime(posting=posting, seat=seat, why=why))
    return tuple(found)


def _seats_by_section(postings: Sequence[Posting], *, band: Band) -> dict[int, list[Seat]]:
    sections = {posting.section_id for posting in postings}
    seats = Seat.objects.filter(section__in=sections).select_related("student", "section").in_score_order()
    found: dict[int, list[Seat]] = {}
    for seat in seats:
        found.setdefault(seat.section_id, []).append(seat)
    return found


def _why_live(
    posting: Posting, seat: Seat, absent: Booking | None, *, no_recording: set[int], band: Band
) -> str:
    if absent is not None:
        return f"did not come on {band.local(absent.slot.starts_at):%A}"
    if seat.student_id in no_recording:
        return "no permission to record, so live is the way"
    if not posting.assignment.takes_recordings:
        return "played live by everybody"
    return ""


# A student's times -----------------------------------------------------------------------------------------


def own_bookings(*, student: User, band: Band, at: datetime) -> list[Booking]:
    """Still to come, those that the director cancelled among them."""
    return list(
        Booking.objects.filter(
            seat__student=student, slot__band=band, state=Booking.State.BOOKED, slot__ends_at__gt=at
        )
        .select_related("slot", "seat", "assignment__exercise")
        .order_by("slot__starts_at", "pk")
    )


def can_play_live(*, student: User, band: Band, at: datetime) -> list[OwnPosting]:
    """The student's open assignments that take check-ins, what is not settled first."""
    open_now = Posting.objects.filter(opens_at__lte=at, closes_at__gt=at).exclude(
        assignment__routes=Routes.RECORDING
    )
    own = own_postings(student=student, band=band, postings=open_now)
    return sorted(own, key=lambda one: one.turn_in is not None and one.turn_in.state in SETTLED)


def seats_today(*, student: User, band: Band, at: datetime) -> list[Seat]:
    seats = Seat.objects.filter(student=student, section__band=band).on(band.local(at).date())
    return list(seats.select_related("section", "student").order_by("-since", "-pk"))


def offered(
    *,
    band: Band,
    sections: Iterable[int],
    purposes: Iterable[Slot.Purpose],
    at: datetime,
    until: datetime | None = None,
) -> tuple[Sitting, ...]:
    """What students of these sections can book, full times among them; one query, without who booked."""
    slots = Slot.objects.filter(band=band).to_come(sections=sections, purposes=purposes, at=at)
    if until is not None:
        slots = slots.filter(starts_at__lt=until)
    groups: dict[tuple[date, Any], list[Time]] = {}
    for slot in slots:
        groups.setdefault((band.local(slot.starts_at).date(), slot.series), []).append(Time(slot, ()))
    return tuple(Sitting(day=day, times=tuple(times)) for (day, _), times in groups.items())


def open_stuck(*, student: User, band: Band) -> list[Stuck]:
    """Where the student said "I'm stuck" and nobody has helped yet, the oldest first."""
    stuck = Stuck.objects.filter(seat__student=student, seat__section__band=band, helped_at__isnull=True)
    return list(stuck.select_related("assignment__exercise"))
