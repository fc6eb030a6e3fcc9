"""What the band's pages show, in a number of queries that does not grow with the band."""

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import QuerySet

from bandroom.people.models import Band, Membership, Role, Seat, Section
from bandroom.people.models.seats import SeatQuerySet


@dataclass(frozen=True, slots=True)
class SeatedMember:
    seat: Seat
    membership: Membership


@dataclass(frozen=True, slots=True)
class SectionNow:
    section: Section
    members: tuple[SeatedMember, ...]


@dataclass(frozen=True, slots=True)
class BandNow:
    """Sections in score order with who sits in them today; `without_card` counts students of the band."""

    sections: tuple[SectionNow, ...]
    unseated: tuple[Membership, ...]
    left: tuple[Membership, ...]
    staff: tuple[Membership, ...]
    students: int
    without_card: int
    may_not_record: int


def band_now(band: Band) -> BandNow:
    """Three queries."""
    memberships = list(
        Membership.objects.filter(band=band)
        .select_related("user")
        .order_by("user__last_name", "user__first_name", "pk")
    )
    students = [m for m in memberships if m.is_student and m.ended_at is None]
    by_user = {m.user_id: m for m in students}
    seats: defaultdict[int, list[SeatedMember]] = defaultdict(list)
    seated = set()
    for seat in open_seats(band).in_score_order():
        if membership := by_user.get(seat.student_id):
            seats[seat.section_id].append(SeatedMember(seat=seat, membership=membership))
            seated.add(membership.pk)
    return BandNow(
        sections=tuple(
            SectionNow(section=section, members=tuple(seats[section.pk]))
            for section in Section.objects.filter(band=band)
        ),
        unseated=tuple(m for m in students if m.pk not in seated),
        left=tuple(m for m in memberships if m.is_student and m.ended_at is not None),
        staff=tuple(m for m in memberships if m.is_staff and m.ended_at is None),
        students=len(students),
        without_card=sum(m.card_issued_at is None for m in students),
        may_not_record=sum(not m.may_record for m in students),
    )


def open_seats(band: Band) -> SeatQuerySet:
    """Seats that have not ended."""
    return Seat.objects.filter(section__band=band, until__isnull=True)


def students_of(band: Band) -> QuerySet[Membership]:
    """Students who are in the band today."""
    return (
        Membership.objects.filter(band=band, role=Role.STUDENT, ended_at__isnull=True)
        .select_related("user", "band")
        .order_by("user__last_name", "user__first_name", "pk")
    )


def staff_of(band: Band) -> QuerySet[Membership]:
    return (
        Membership.objects.filter(band=band, role__in=[Role.DIRECTOR, Role.SUBSTITUTE], ended_at__isnull=True)
        .select_related("user", "band")
        .order_by("role", "user__last_name", "user__first_name", "pk")
    )


@dataclass(frozen=True, slots=True)
class MemberPlace:
    """A student with the first open seat in score order, None without one."""

    membership: Membership
    seat: Seat | None


def places_of(band: Band) -> tuple[MemberPlace, ...]:
    """Every student of the band once, in score order, those without a seat last. Two queries."""
    members = {m.user_id: m for m in students_of(band)}
    placed: dict[int, Seat] = {}
    for seat in open_seats(band).select_related("section").in_score_order():
        if seat.student_id in members:
            placed.setdefault(seat.student_id, seat)
    return (
        *(MemberPlace(membership=members[pk], seat=seat) for pk, seat in placed.items()),
        *(MemberPlace(membership=m, seat=None) for pk, m in members.items() if pk not in placed),
    )


def seats_ever(membership: Membership) -> list[Seat]:
    """All seats of a student in this band, the newest first, open ones before ended ones of the same day."""
    return list(
        Seat.objects.filter(student=membership.user_id, section__band=membership.band_id)
        .select_related("section")
        .order_by("-since", "-pk")
    )
