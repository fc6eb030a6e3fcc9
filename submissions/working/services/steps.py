"""What a student does in the steps before a take: each is kept, and can be taken back."""

from collections.abc import Callable, Collection, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from exercises.music.part import Part
from exercises.music.watching import Taps, answer_taps
from submissions.errors import Refused
from submissions.models import Step, StepDone, Stuck
from submissions.turn_ins.own_work import OwnPosting

MOST_STUCK = 4


def tick(*, own: OwnPosting, ticked: Collection[str], items: Sequence[str], at: datetime) -> None:
    """Keep which things are ready, of those on the list."""
    kept = [item for item in items if item in ticked]
    with transaction.atomic():
        row = _row(own=own, step=Step.READY, at=at)
        row.detail = {"ticked": kept}
        row.finished = len(kept) == len(items)
        row.save(update_fields=["detail", "finished", "at"])


def go_through(*, own: OwnPosting, step: Step, label: str, tempo: int | None, at: datetime) -> None:
    """Note that a line was gone through in this step, and the fastest tempo of it."""

    def faster(before: dict[str, Any]) -> dict[str, Any]:
        tempos = [each for each in (before.get("tempo"), tempo) if each is not None]
        return {"tempo": max(tempos)} if tempos else {}

    _note(own=own, step=step, label=label, change=faster, whole=lambda _: True, at=at)


def tap(
    *,
    own: OwnPosting,
    part: Part,
    tapped: Collection[int],
    shown: Collection[int] = (),
    courtesy: bool,
    at: datetime,
) -> Taps:
    """Add notes that the student tapped, or had shown, and answer with what is found by now.

    What was tapped stays tapped, so that a second visit goes on from the first.
    """
    label = part.line.label
    notes = range(len(part.line.notes))

    def add(before: dict[str, Any]) -> dict[str, Any]:
        seen = {*before.get("shown", ()), *(index for index in shown if index in notes)}
        taps = {*before.get("tapped", ()), *(index for index in tapped if index in notes)}
        return {"tapped": sorted(taps), "shown": sorted(seen - taps)}

    def whole(found: dict[str, Any]) -> bool:
        known = {*found.get("tapped", ()), *found.get("shown", ())}
        return not answer_taps(part, known, courtesy=courtesy).missed

    found = _note(own=own, step=Step.SIGNS, label=label, change=add, whole=whole, at=at)
    return answer_taps(part, found["tapped"], courtesy=courtesy)


def start_over(*, own: OwnPosting, step: Step, label: str, at: datetime) -> None:
    """Forget one line of one step."""
    with transaction.atomic():
        row = StepDone.objects.select_for_update().filter(
            assignment=own.posting.assignment_id, seat=own.seat, step=step
        )
        for found in row:
            found.detail.pop(label, None)
            if found.detail and step is not Step.READY:
                found.finished, found.at = False, at
                found.save(update_fields=["detail", "finished", "at"])
            else:
                found.delete()


def say_stuck(*, own: OwnPosting, label: str, bar: int, at: datetime) -> Stuck:
    """One tap; the same bar twice is once. Raises Refused when too many bars wait for help."""
    waiting = Stuck.objects.filter(
        assignment=own.posting.assignment_id, seat=own.seat, helped_at__isnull=True
    )
    with transaction.atomic():
        same = waiting.filter(line=label, bar=bar).first()
        if same is not None:
            return same
        if waiting.count() >= MOST_STUCK:
            words = _("You said so for {count} bars. Take one back, or book a time for help.")
            raise Refused(words.format(count=MOST_STUCK))
        return Stuck.objects.create(
            assignment=own.posting.assignment, seat=own.seat, line=label, bar=bar, at=at
        )


def unstick(*, own: OwnPosting, pk: int) -> bool:
    """Take it back; False when it was not there or a director has helped by then."""
    rows = Stuck.objects.filter(
        pk=pk, assignment=own.posting.assignment_id, seat=own.seat, helped_at__isnull=True
    )
    return bool(rows.delete()[0])


def _note(
    *,
    own: OwnPosting,
    step: Step,
    label: str,
    change: Callable[[dict[str, Any]], dict[str, Any]],
    whole: Callable[[dict[str, Any]], bool],
    at: datetime,
) -> dict[str, Any]:
    """Change what is kept of one line; the step is finished once every line asked for is whole."""
    with transaction.atomic():
        row = _row(own=own, step=step, at=at)
        found = change(row.detail.get(label, {}))
        row.detail[label] = found | {"whole": whole(found)}
        asked = own.posting.assignment.lines
        row.finished = all(row.detail.get(each, {}).get("whole") for each in asked)
        row.save(update_fields=["detail", "finished", "at"])
    return found


def _row(*, own: OwnPosting, step: Step, at: datetime) -> StepDone:
    """Locked for this transaction, so that two phones add up instead of overwriting each other."""
    rows = StepDone.objects.select_for_update()
    row, _ = rows.get_or_create(
        assignment=own.posting.assignment, seat=own.seat, step=step, defaults={"at": at}
    )
    row.at = at
    return row
