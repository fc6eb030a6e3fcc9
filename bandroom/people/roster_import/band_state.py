"""The band as an import sees it: students, their open seats and the sections, read in three queries."""

import unicodedata
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, Role, Section
from bandroom.people.queries import open_seats


def _folded(text: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())


def name_key(first_name: str, last_name: str) -> tuple[str, str]:
    """Capitals and spaces do not make another child."""
    return _folded(first_name), _folded(last_name)


@dataclass(frozen=True, slots=True)
class SectionKey:
    """A section by what a list calls it: as written, and as compared."""

    name: str
    period: str

    @property
    def match(self) -> tuple[str, str]:
        return _folded(self.name), _folded(self.period)

    def __str__(self) -> str:
        return f"{self.name}, period {self.period}" if self.period else self.name


@dataclass(frozen=True, slots=True)
class KnownSeat:
    pk: int
    section: tuple[str, str]
    section_name: str
    instrument: Instrument
    since: date


@dataclass(frozen=True, slots=True)
class KnownStudent:
    membership: int
    user: int
    first_name: str
    last_name: str
    name_id: str
    has_left: bool
    seats: tuple[KnownSeat, ...]

    @property
    def name(self) -> str:
        return f"{self.first_name} {self.last_name}".strip()


@dataclass(frozen=True, slots=True)
class BandState:
    students: tuple[KnownStudent, ...]
    sections: dict[tuple[str, str], SectionKey]
    section_pks: dict[tuple[str, str], int]
    by_name: dict[tuple[str, str], tuple[KnownStudent, ...]] = field(default_factory=dict)
    by_name_id: dict[str, KnownStudent] = field(default_factory=dict)

    def sections_named(self, name: str) -> tuple[SectionKey, ...]:
        return tuple(key for key in self.sections.values() if key.match[0] == _folded(name))

    def section_of(self, pk: int) -> SectionKey | None:
        match = next((match for match, known in self.section_pks.items() if known == pk), None)
        return self.sections[match] if match else None


def band_state(band: Band) -> BandState:
    sections = list(Section.objects.filter(band=band))
    keys = {section.pk: SectionKey(section.name, section.period) for section in sections}
    seats: defaultdict[int, list[KnownSeat]] = defaultdict(list)
    for seat in open_seats(band).order_by("pk"):
        key = keys[seat.section_id]
        seats[seat.student_id].append(
            KnownSeat(
                pk=seat.pk,
                section=key.match,
                section_name=str(key),
                instrument=Instrument(seat.instrument),
                since=seat.since,
            )
        )
    students = tuple(
        KnownStudent(
            membership=m.pk,
            user=m.user_id,
            first_name=m.user.first_name,
            last_name=m.user.last_name,
            name_id=m.user.sign_in_name,
            has_left=m.ended_at is not None,
            seats=tuple(seats[m.user_id]),
        )
        for m in Membership.objects.filter(band=band, role=Role.STUDENT).select_related("user").order_by("pk")
    )
    by_name: defaultdict[tuple[str, str], list[KnownStudent]] = defaultdict(list)
    for student in students:
        by_name[name_key(student.first_name, student.last_name)].append(student)
    return BandState(
        students=students,
        sections={key.match: key for key in keys.values()},
        section_pks={key.match: pk for pk, key in keys.items()},
        by_name={name: tuple(same) for name, same in by_name.items()},
        by_name_id={student.name_id: student for student in students},
    )
