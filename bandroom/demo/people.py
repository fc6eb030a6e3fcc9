"""Makes the band, its staff, sections and seats of the demo school."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from bandroom.demo import school
from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, Role, Seat, Section, User
from bandroom.people.passphrases import normal_passphrase


@dataclass(frozen=True, slots=True)
class People:
    band: Band
    director: User
    sections: tuple[Section, ...]
    # Current seats by the student's full name.
    seats: dict[str, Seat]


def make_people(*, at: datetime) -> People:
    starts = (at - timedelta(weeks=school.WEEKS_BEFORE, days=at.weekday())).date()
    band = Band.objects.create(
        name=school.BAND,
        school=school.SCHOOL,
        time_zone=school.TIME_ZONE,
        school_year_starts=starts,
        school_year_ends=starts + timedelta(weeks=school.WEEKS_IN_YEAR),
    )
    director = _make_staff(band=band, who=school.DIRECTOR, role=Role.DIRECTOR)
    _make_staff(band=band, who=school.SUBSTITUTE, role=Role.SUBSTITUTE)
    sections: dict[str, Section] = {}
    seats: dict[str, Seat] = {}
    for order, (name, period, students) in enumerate(school.SECTIONS):
        section = sections[name] = Section.objects.create(band=band, name=name, period=period, order=order)
        for student in students:
            user = _make_student(band=band, student=student, at=at)
            seats[user.full_name] = Seat.objects.create(
                section=section, student=user, instrument=student.instrument, since=starts
            )
    _change_instrument(band=band, sections=sections, seats=seats, starts=starts, at=at)
    return People(band=band, director=director, sections=tuple(sections.values()), seats=seats)


def sign_in_name(full_name: str) -> str:
    """The demo's name-ids are easy to guess on purpose; a real band's are not."""
    return "".join(letter for letter in full_name.split()[0].lower() if letter.isalpha())


def _make_staff(*, band: Band, who: tuple[str, str, str], role: Role) -> User:
    first, last, email = who
    user = User.objects.create_user(email, school.STAFF_PASSWORD, first_name=first, last_name=last)
    Membership.objects.create(band=band, user=user, role=role)
    return user


def _make_student(*, band: Band, student: school.DemoStudent, at: datetime) -> User:
    name = sign_in_name(student.first)
    words = normal_passphrase(school.STUDENT_PASSPHRASE)
    user = User.objects.create_user(name, words, first_name=student.first, last_name=student.last)
    Membership.objects.create(
        band=band, user=user, role=Role.STUDENT, recording=student.recording, card_issued_at=at
    )
    return user


def _change_instrument(
    *, band: Band, sections: dict[str, Section], seats: dict[str, Seat], starts: date, at: datetime
) -> None:
    """One student came from trumpet three weeks ago: the old seat ended, the new one goes on."""
    user = _make_student(band=band, student=school.CHANGED, at=at)
    old_section, old_instrument = school.CHANGED_FROM
    changed_on = (at - timedelta(weeks=3)).date()
    Seat.objects.create(
        section=sections[old_section],
        student=user,
        instrument=Instrument(old_instrument),
        since=starts,
        until=changed_on - timedelta(days=1),
    )
    seats[user.full_name] = Seat.objects.create(
        section=sections[school.CHANGED_TO],
        student=user,
        instrument=school.CHANGED.instrument,
        since=changed_on,
    )
