"""Rows for tests, with plain defaults; a test names only what it is about."""

import itertools
from datetime import UTC, date, datetime, timedelta

from bandroom.people.models import Band, Membership, RecordingPermission, Role, Seat, Section, User
from exercises.models import Exercise, ExerciseLine
from submissions.models import Assignment, Criterion, Level, Posting, Routes, Rubric

COUNT = itertools.count(1)
MONDAY = datetime(2026, 10, 5, 12, 0, tzinfo=UTC)
LONG_AGO = date(2026, 8, 24)


def make_band(*, name: str = "Harrow Bend Band", time_zone: str = "America/Chicago") -> Band:
    return Band.objects.create(
        name=name,
        time_zone=time_zone,
        school_year_starts=LONG_AGO,
        school_year_ends=date(2027, 6, 11),
    )


def make_user(*, first_name: str = "Ada", last_name: str = "", sign_in_name: str | None = None) -> User:
    n = next(COUNT)
    return User.objects.create_user(
        sign_in_name or f"person-{n}",
        "four green valves",
        first_name=first_name,
        last_name=last_name or f"Tester{n}",
    )


def make_staff(*, band: Band, role: Role = Role.DIRECTOR, user: User | None = None) -> Membership:
    user = user or make_user(first_name="Imre", sign_in_name=f"{role}-{next(COUNT)}@school.example")
    return Membership.objects.create(band=band, user=user, role=role)


def make_section(*, band: Band, name: str | None = None, period: str = "2") -> Section:
    return Section.objects.create(band=band, name=name or f"Section {next(COUNT)}", period=period)


def make_seat(
    *,
    section: Section,
    instrument: str = "clarinet",
    student: User | None = None,
    since: date = LONG_AGO,
    until: date | None = None,
    recording: RecordingPermission = RecordingPermission.GRANTED,
) -> Seat:
    """A student with a membership in the section's band, seated."""
    student = student or make_user()
    Membership.objects.get_or_create(
        band=section.band, user=student, defaults={"role": Role.STUDENT, "recording": recording}
    )
    return Seat.objects.create(
        section=section, student=student, instrument=instrument, since=since, until=until
    )


def half_note_line(label: str) -> dict[str, object]:
    """Two bars in concert B flat: B flat, C | D, B flat; halves for line A, quarters for line B."""
    beats = "2" if label == "A" else "1"
    pitches = ["Bb3", "C4", "D4", "Bb3"]
    bars = [pitches[:2], pitches[2:]] if label == "A" else [pitches, pitches]
    return {
        "label": label,
        "metre": "4/4",
        "fifths": -2,
        "bars": [[{"pitch": p, "beats": beats} for p in bar] for bar in bars],
    }


def make_exercise(*, band: Band, title: str = "Stepping Stones", at: datetime = MONDAY) -> Exercise:
    exercise = Exercise.objects.create(band=band, title=title, created_at=at)
    for order, label in enumerate("AB"):
        ExerciseLine.objects.create(
            exercise=exercise, label=label, order=order, tempo_bpm=72, score=half_note_line(label)
        )
    return exercise


def make_rubric(*, band: Band, at: datetime = MONDAY) -> Rubric:
    """Two criteria of four levels."""
    rubric = Rubric.objects.create(band=band, name="Short lines", created_at=at)
    for order, name in enumerate(["Right notes", "Steady rhythm"]):
        criterion = Criterion.objects.create(rubric=rubric, name=name, order=order)
        Level.objects.bulk_create(
            Level(criterion=criterion, value=value, words=f"{name} at {value}") for value in (1, 2, 3, 4)
        )
    return rubric


def make_assignment(
    *,
    band: Band,
    sections: list[Section],
    opens_at: datetime = MONDAY,
    due_at: datetime | None = None,
    closes_at: datetime | None = None,
    routes: Routes = Routes.EITHER,
    exercise: Exercise | None = None,
    rubric: Rubric | None = None,
) -> Assignment:
    """Opens on Monday, due three days later, closes after a week, unless told otherwise."""
    assignment = Assignment.objects.create(
        band=band,
        number=Assignment.objects.filter(band=band).count() + 1,
        exercise=exercise or make_exercise(band=band),
        rubric=rubric or make_rubric(band=band),
        lines=["A", "B"],
        routes=routes,
        posted_at=opens_at,
    )
    for section in sections:
        Posting.objects.create(
            assignment=assignment,
            section=section,
            opens_at=opens_at,
            due_at=due_at or opens_at + timedelta(days=3),
            closes_at=closes_at or opens_at + timedelta(days=7),
        )
    return assignment
