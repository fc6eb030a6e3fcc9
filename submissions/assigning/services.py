"""An assignment posted, changed, copied to the next week, withdrawn and brought back.

Whatever students have turned in stays valid: a move that would take it away is refused in one sentence.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Max

from bandroom.people.models import Band, Section, User
from exercises.models import Exercise
from submissions.assigning import queries
from submissions.assigning.deadlines import Window, monday_of
from submissions.assigning.school_years import current_year
from submissions.errors import Refused
from submissions.models import Assignment, Posting, Routes, Rubric, Step


@transaction.atomic
def post(
    *,
    band: Band,
    exercise: Exercise,
    windows: Mapping[Section, Window],
    rubric: Rubric,
    lines: Sequence[str],
    by: User | None,
    at: datetime,
    routes: Routes = Routes.EITHER,
    note: str = "",
    tempos: Mapping[str, int] | None = None,
    tempo_ranges: Mapping[str, tuple[int, int]] | None = None,
    first_steps: Sequence[str] = (),
) -> Assignment:
    """Post `exercise` to the sections of `windows`, each with its own times.

    `lines`: labels of the exercise's lines that are asked for. `tempos`: beats a minute by label; stored only
    where they differ from the exercise's own. `tempo_ranges`: the slowest and the fastest that a line may be
    recorded at, by label; none means exactly. `first_steps`: values of Step that come before recording. `at`
    may be in the past, as may every time in `windows`.
    """
    if exercise.band_id != band.pk or rubric.band_id != band.pk:
        raise Refused("That exercise or rubric is another band's; choose one of this band.")
    _check_windows(band=band, windows=windows)
    Band.objects.select_for_update().get(pk=band.pk)  # numbers are given one after the other
    assignment = Assignment.objects.create(
        band=band,
        number=_next_number(band=band, at=at),
        exercise=exercise,
        rubric=rubric,
        lines=_checked_lines(exercise=exercise, lines=lines),
        routes=routes,
        note=note,
        tempos=_own_tempos(exercise=exercise, tempos=tempos or {}),
        tempo_ranges=_own_ranges(exercise=exercise, ranges=tempo_ranges or {}),
        first_steps=[step for step in Step if step in first_steps],
        created_by=by,
        posted_at=at,
    )
    _post_to(assignment=assignment, windows=windows)
    return assignment


@transaction.atomic
def edit(
    *,
    assignment: Assignment,
    windows: Mapping[Section, Window],
    rubric: Rubric,
    lines: Sequence[str],
    routes: Routes,
    note: str = "",
    tempos: Mapping[str, int] | None = None,
    tempo_ranges: Mapping[str, tuple[int, int]] | None = None,
    first_steps: Sequence[str] = (),
) -> Assignment:
    """The assignment as it now stands. The exercise stays: students have practised it.

    Refused: a line or a section taken away that students have work in, a rubric changed under marks.
    """
    assignment = Assignment.objects.select_for_update(of=("self",)).get(pk=assignment.pk)
    # Locked, so that nothing can be turned in to a section while it is taken away.
    postings = {p.section_id: p for p in Posting.objects.select_for_update().filter(assignment=assignment)}
    _check_windows(band=assignment.band, windows=windows)
    if rubric.band_id != assignment.band_id:
        raise Refused("That rubric is another band's; choose one of this band.")
    lines = _checked_lines(exercise=assignment.exercise, lines=lines)
    if rubric.pk != assignment.rubric_id and queries.has_marks(assignment=assignment):
        raise Refused(
            "Marks have been given with this rubric, so it stays; use the other one from the next time on."
        )
    _keep_lines_with_work(assignment=assignment, lines=lines)
    gone = [posting for posting in postings.values() if posting.section_id not in {s.pk for s in windows}]
    for posting in gone:
        _drop(assignment=assignment, posting=posting)

    assignment.rubric = rubric
    assignment.lines = lines
    assignment.routes = routes
    assignment.note = note
    assignment.tempos = _own_tempos(exercise=assignment.exercise, tempos=tempos or {})
    assignment.tempo_ranges = _own_ranges(exercise=assignment.exercise, ranges=tempo_ranges or {})
    assignment.first_steps = [step for step in Step if step in first_steps]
    assignment.save(
        update_fields=["rubric", "lines", "routes", "note", "tempos", "tempo_ranges", "first_steps"]
    )
    for section, window in windows.items():
        if section.pk in postings:
            Posting.objects.filter(pk=postings[section.pk].pk).update(
                opens_at=window.opens_at, due_at=window.due_at, closes_at=window.closes_at
            )
    _post_to(assignment=assignment, windows={s: w for s, w in windows.items() if s.pk not in postings})
    return assignment


@transaction.atomic
def copy_to_next_week(*, assignment: Assignment, by: User | None, at: datetime) -> Assignment:
    """The same again, with the same weekdays and times on the band's clock, for the week after this one.

    An assignment of this week or before moves to next week; one that lies ahead, to the week after its own.
    Where the exercise was written anew since, the copy takes the newest version that has all lines asked for.
    """
    band = assignment.band
    postings = list(assignment.postings.select_related("section"))
    if not postings:
        raise Refused("This assignment is posted to no section; post it anew instead.")
    first_due = min(band.local(posting.due_at).date() for posting in postings)
    ahead = monday_of(band.local(at).date()) + timedelta(weeks=1) - monday_of(first_due)
    weeks = max(1, ahead.days // 7)
    return post(
        band=band,
        exercise=_newest_version(assignment),
        windows={
            posting.section: window_of(posting).weeks_later(weeks=weeks, zone=band.zone)
            for posting in postings
        },
        rubric=assignment.rubric,
        lines=assignment.lines,
        routes=Routes(assignment.routes),
        note=assignment.note,
        tempos=assignment.tempos,
        tempo_ranges=assignment.tempo_ranges,
        first_steps=assignment.first_steps,
        by=by,
        at=at,
    )


def withdraw(*, assignment: Assignment, at: datetime) -> None:
    """Students no longer see it. What they turned in, and every mark, is kept."""
    if not Assignment.objects.filter(pk=assignment.pk, withdrawn_at__isnull=True).update(withdrawn_at=at):
        raise Refused("This assignment is withdrawn already; bring it back if students should see it.")


def bring_back(*, assignment: Assignment) -> None:
    if not Assignment.objects.filter(pk=assignment.pk, withdrawn_at__isnull=False).update(withdrawn_at=None):
        raise Refused("This assignment is not withdrawn; students see it.")


def window_of(posting: Posting) -> Window:
    return Window(opens_at=posting.opens_at, due_at=posting.due_at, closes_at=posting.closes_at)


def _next_number(*, band: Band, at: datetime) -> int:
    starts, until = current_year(band=band, at=at).span(band=band)
    so_far = Assignment.objects.filter(band=band, posted_at__gte=starts, posted_at__lt=until)
    return int(so_far.aggregate(last=Max("number"))["last"] or 0) + 1


def _check_windows(*, band: Band, windows: Mapping[Section, Window]) -> None:
    if not windows:
        raise Refused("Choose at least one section to post to.")
    for section, window in windows.items():
        if section.band_id != band.pk:
            raise Refused("One of the sections is another band's; choose sections of this band.")
        if problem := window.problem():
            raise Refused(f"{section}: {problem.sentence}")


def _checked_lines(*, exercise: Exercise, lines: Sequence[str]) -> list[str]:
    """The labels asked for in the exercise's own order."""
    labels = [line.label for line in exercise.lines.all()]
    if unknown := [label for label in lines if label not in labels]:
        raise Refused(f"“{exercise}” has no line {unknown[0]}; choose from {', '.join(labels)}.")
    asked = [label for label in labels if label in lines]
    if not asked:
        raise Refused("Choose at least one line to ask for.")
    return asked


def _own_tempos(*, exercise: Exercise, tempos: Mapping[str, int]) -> dict[str, int]:
    return {
        line.label: int(tempos[line.label])
        for line in exercise.lines.all()
        if line.label in tempos and tempos[line.label] != line.tempo_bpm
    }


def _own_ranges(*, exercise: Exercise, ranges: Mapping[str, tuple[int, int]]) -> dict[str, list[int]]:
    labels = [line.label for line in exercise.lines.all()]
    return {label: [*ranges[label]] for label in labels if label in ranges and len({*ranges[label]}) > 1}


def _newest_version(assignment: Assignment) -> Exercise:
    best = newest = assignment.exercise
    passed = {newest.pk}
    while newest.replaced_by is not None and newest.replaced_by.pk not in passed:
        newest = newest.replaced_by
        passed.add(newest.pk)
        if set(assignment.lines) <= {line.label for line in newest.lines.all()}:
            best = newest
    return best


def _post_to(*, assignment: Assignment, windows: Mapping[Section, Window]) -> None:
    Posting.objects.bulk_create(
        Posting(
            assignment=assignment,
            section=section,
            opens_at=window.opens_at,
            due_at=window.due_at,
            closes_at=window.closes_at,
        )
        for section, window in windows.items()
    )


def _keep_lines_with_work(*, assignment: Assignment, lines: Sequence[str]) -> None:
    for label in assignment.lines:
        if label not in lines and (
            students := queries.students_with_work_in_line(assignment=assignment, line=label)
        ):
            raise Refused(
                f"Line {label} has work from {_students(students)}, so it stays; withdraw the assignment "
                "if nobody should play it."
            )


def _drop(*, assignment: Assignment, posting: Posting) -> None:
    if students := queries.students_with_work_in_section(assignment=assignment, posting=posting):
        raise Refused(
            f"{posting.section} has work from {_students(students)}, so it stays; withdraw the assignment "
            "if nobody should see it."
        )
    posting.delete()


def _students(count: int) -> str:
    return "one student" if count == 1 else f"{count} students"
