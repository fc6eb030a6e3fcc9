"""Fourteen weeks into the year: five assignments past, one due, one next week; every state there is."""

import random
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta

from bandroom.demo import takes
from bandroom.demo.people import People
from bandroom.demo.pieces import PIECES, DemoPiece
from bandroom.people.instruments import Instrument
from bandroom.people.models import Seat
from exercises.models import Exercise, ExerciseLine, FingeringChoice
from exercises.music.fingering_tables import rows_of
from exercises.music.notation import parse_notation
from exercises.music.score import Metre, line_to_json
from submissions.assigning.deadlines import Window
from submissions.assigning.rubrics import default_rubric
from submissions.assigning.services import post
from submissions.grading.services.phrases import add_phrase
from submissions.models import Assignment, Booking, Level, Mark, Phrase, Posting, Return, Slot, Stuck, TurnIn
from submissions.turn_ins import services as turn_ins

DUE_AT = time(20, 0)
CURRENT = 5  # index of the piece that is due now
CHANCE = random.Random(14)  # noqa: S311 the same demo each time; nothing secret comes from it

PHRASES = (
    (Phrase.Kind.WORKED, "steady", "Your beat held still all the way."),
    (Phrase.Kind.WORKED, "clear start", "Your notes start clearly."),
    (Phrase.Kind.WORKED, "signs seen", "You saw every sign in the key."),
    (Phrase.Kind.NEXT_STEP, "name it first", "Say the letter names in rhythm before you play."),
    (Phrase.Kind.NEXT_STEP, "tie ends the sign", "The sharp ends at the bar line, even after a tie."),
    (Phrase.Kind.NEXT_STEP, "keep going", "Keep going when a note slips; the beat matters more."),
)


def make_exercise(*, people: People, piece: DemoPiece, at: datetime) -> Exercise:
    exercise = Exercise.objects.create(
        band=people.band,
        title=piece.title,
        concert_fifths=piece.fifths,
        created_by=people.director,
        created_at=at,
    )
    for order, (label, caption, text) in enumerate(
        (("A", "half notes", piece.line_a), ("B", "quarter notes", piece.line_b))
    ):
        line = parse_notation(text, label=label, metre=Metre(4, 4), fifths=piece.fifths)
        ExerciseLine.objects.create(
            exercise=exercise,
            label=label,
            order=order,
            caption=caption,
            tempo_bpm=piece.tempo,
            score=line_to_json(line),
        )
    return exercise


def confirm_fingerings(*, people: People, at: datetime) -> None:
    """The director has said yes to all but the double reeds: those pages show what waiting looks like."""
    instruments = {seat.instrument for seat in people.seats.values()} - {Instrument.OBOE, Instrument.BASSOON}
    FingeringChoice.objects.bulk_create(
        FingeringChoice(
            band=people.band,
            instrument=instrument,
            row_id=row.id,
            confirmed_at=at - timedelta(weeks=10),
            confirmed_by=people.director,
        )
        for instrument in sorted(instruments)
        for rows in rows_of(instrument).values()
        for row in rows
        if row.keys is not None
    )


def make_work(*, people: People, at: datetime) -> None:
    confirm_fingerings(people=people, at=at)
    for kind, label, text in PHRASES:
        add_phrase(band=people.band, kind=kind, label=label, text=text)
    due_now = _next_school_evening(people=people, at=at)
    rubric = default_rubric(band=people.band, at=at)
    for index, piece in enumerate(PIECES):
        due = _evening(people, due_now + timedelta(weeks=index - CURRENT))
        opens = due - timedelta(days=6 if index <= CURRENT else 3)
        exercise = make_exercise(people=people, piece=piece, at=opens)
        window = Window(opens_at=opens, due_at=due, closes_at=due + timedelta(days=7))
        assignment = post(
            band=people.band,
            exercise=exercise,
            windows=dict.fromkeys(people.sections, window),
            rubric=rubric,
            lines=["A", "B"],
            by=people.director,
            at=min(opens, at),
            note="Say the letter names in rhythm first. Then finger it slowly." if index == CURRENT else "",
        )
        if index < CURRENT - 1:
            _played_live(people=people, assignment=assignment)
        elif index == CURRENT - 1:
            _last_week(people=people, assignment=assignment)
        elif index == CURRENT:
            _this_week(people=people, assignment=assignment, at=at)
    _make_slots(people=people, at=at)


def _next_school_evening(*, people: People, at: datetime) -> date:
    """The day after today, or Monday where that is a weekend."""
    day = people.band.local(at).date() + timedelta(days=1)
    return day + timedelta(days=max(0, 7 - day.weekday()) if day.weekday() >= 5 else 0)


def _evening(people: People, day: date) -> datetime:
    return datetime.combine(day, DUE_AT, tzinfo=people.band.zone)


def _postings(assignment: Assignment) -> dict[int, Posting]:
    return {p.section_id: p for p in assignment.postings.select_related("assignment__band", "section")}


def _seats_then(*, people: People, assignment: Assignment) -> list[Seat]:
    """Seats held on the due day: one student sat elsewhere a few weeks ago."""
    due = assignment.postings.first()
    day = people.band.local(due.due_at).date() if due else date.min
    return list(
        Seat.objects.filter(section__band=people.band).on(day).in_score_order().select_related("student")
    )


def _played_live(*, people: People, assignment: Assignment) -> None:
    """Early in the year every line was heard in class."""
    postings = _postings(assignment)
    for seat in _seats_then(people=people, assignment=assignment):
        posting = postings[seat.section_id]
        if CHANCE.random() < 0.05:
            continue
        when = posting.due_at - timedelta(days=1, minutes=CHANCE.randrange(400))
        row = turn_ins.open_live(seat=seat, posting=posting, by=people.director, at=when)
        _mark(people=people, turn_in=row, style=CHANCE.choices(range(5), weights=(8, 4, 3, 2, 1))[0], at=when)


def _last_week(*, people: People, assignment: Assignment) -> None:
    """Mostly marked; late and waiting, play again, missing, excused are all still to be seen."""
    postings = _postings(assignment)
    for index, seat in enumerate(_seats_then(people=people, assignment=assignment)):
        posting, name = postings[seat.section_id], seat.student.full_name
        if name in {"Anouk Delacroix", "Hollis Tremaine", "Oskar Rivera"}:
            continue
        if name == "Saoirse Whitlock":
            turn_ins.excuse(
                seat=seat, posting=posting, reason="absent all week", by=people.director, at=posting.due_at
            )
            continue
        late = name in {"Jamila Penrose", "Yusuf Bergstrom"}
        when = posting.due_at + (
            timedelta(hours=14)
            if late
            else -timedelta(days=CHANCE.randrange(3), minutes=5 + CHANCE.randrange(260))
        )
        style = index % 5
        if _must_play_live(seat):
            row = turn_ins.open_live(seat=seat, posting=posting, by=people.director, at=when)
        else:
            row = takes.turn_in(seat=seat, posting=posting, styles={"AB": style}, at=when)
        if not late:
            again = name in {"Teo Ashkenazi", "Pilar Mbeki"}
            _mark(people=people, turn_in=row, style=style, at=when + timedelta(days=1), again=again)


def _this_week(*, people: People, assignment: Assignment, at: datetime) -> None:
    """Due tomorrow evening: some waiting, some marked, many not in yet."""
    postings = _postings(assignment)
    for index, seat in enumerate(_seats_then(people=people, assignment=assignment)):
        posting, name = postings[seat.section_id], seat.student.full_name
        when = _after_school(people=people, opens=posting.opens_at, at=at)
        if name == "Priyanka Moreau":
            turn_ins.excuse(
                seat=seat, posting=posting, reason="instrument in repair", by=people.director, at=when
            )
        elif name == "Hana Oyelaran":
            Stuck.objects.create(assignment=assignment, seat=seat, line="B", bar=5, at=when)
        elif name == "Nayeli Strandberg":
            for attempt in range(2):
                before = when - timedelta(minutes=8 * (2 - attempt))
                takes.send_take(seat=seat, posting=posting, labels="A", style=3 - attempt, at=before)
            takes.turn_in(seat=seat, posting=posting, styles={"A": 0, "B": 3}, at=when)
        elif (
            not _must_play_live(seat)
            and name != "Linh Abernathy"
            and (index % 5 < 3 or name == "Kaveh Lindqvist")
        ):
            style = index % len(takes.STYLES)
            row = takes.turn_in(seat=seat, posting=posting, styles={"A": min(style, 4), "B": style}, at=when)
            if index % 3 == 0 or name == "Kaveh Lindqvist":
                _mark(people=people, turn_in=row, style=style, at=when + (at - when) / 2, seen=False)


def _after_school(*, people: People, opens: datetime, at: datetime) -> datetime:
    """Some afternoon or evening since the opening, and before now."""
    days = max(1, (at - opens).days)
    day = people.band.local(opens).date() + timedelta(days=CHANCE.randrange(1, days + 1))
    evening = datetime.combine(day, time(15, 30), tzinfo=people.band.zone)
    return min(
        evening + timedelta(minutes=CHANCE.randrange(300)), at - timedelta(minutes=CHANCE.randrange(10, 90))
    )


def _must_play_live(seat: Seat) -> bool:
    """No network at home, or no permission to record yet."""
    return seat.student.full_name in {"Gideon Petrov-Salas", "Malik Svensson"}


def _mark(
    *, people: People, turn_in: TurnIn, style: int, at: datetime, again: bool = False, seen: bool = True
) -> None:
    """Marks that fit how it was played, and a note; returned at once."""
    best = {0: (4, 4, 4), 1: (3, 4, 3), 2: (4, 3, 3), 3: (2, 3, 3), 4: (3, 2, 2), 5: (2, 1, 2)}[style]
    criteria = list(turn_in.assignment.rubric.criteria.prefetch_related("levels"))
    Mark.objects.bulk_create(
        Mark(
            turn_in=turn_in,
            attempt=turn_in.attempt,
            line=line,
            criterion=criterion,
            level=_level(criterion.levels.all(), best[place]),
            given_by=people.director,
            given_at=at,
        )
        for line in turn_in.assignment.lines
        for place, criterion in enumerate(criteria)
    )
    worked = next(text for kind, label, text in PHRASES if kind == Phrase.Kind.WORKED)
    step = [text for kind, label, text in PHRASES if kind == Phrase.Kind.NEXT_STEP][style % 3]
    Return.objects.create(
        turn_in=turn_in,
        attempt=turn_in.attempt,
        worked=worked,
        next_step="" if style == 0 else step,
        look_at="" if style == 0 else "B2",
        asks_again=again,
        returned_at=at,
        returned_by=people.director,
        seen_at=at + timedelta(hours=3) if seen else None,
    )
    turn_in.state = TurnIn.State.REDO if again else TurnIn.State.RETURNED
    turn_in.state_changed_at, turn_in.state_changed_by = at, people.director
    turn_in.save(update_fields=["state", "state_changed_at", "state_changed_by"])


def _level(levels: Iterable[Level], value: int) -> Level:
    return next(level for level in levels if level.value == value)


def _make_slots(*, people: People, at: datetime) -> None:
    """Tuesdays and Thursdays at half past three for four weeks, five minutes each; two are booked."""
    current = Assignment.objects.get(band=people.band, exercise__title=PIECES[CURRENT].title)
    today = people.band.local(at).date()
    days = [today + timedelta(days=n) for n in range(28) if (today + timedelta(days=n)).weekday() in {1, 3}]
    first_series = None
    booked = iter(("Gideon Petrov-Salas", "Malik Svensson"))
    for day in days:
        for place in range(6):
            starts = datetime.combine(day, time(15, 30), tzinfo=people.band.zone) + timedelta(
                minutes=5 * place
            )
            if starts <= at:
                continue
            slot = Slot(
                band=people.band,
                starts_at=starts,
                ends_at=starts + timedelta(minutes=5),
                place="Band room, or by video",
                link="https://meet.larkmere.example/band",
                passcode="high-note-5",
                purpose=Slot.Purpose.EITHER,
            )
            first_series = slot.series = first_series or slot.series
            name = next(booked, None)
            slot.taken = 1 if name else 0
            slot.save()
            slot.sections.set(people.sections)
            if name:
                Booking.objects.create(
                    slot=slot, seat=people.seats[name], assignment=current, booked_at=at, changed_at=at
                )
