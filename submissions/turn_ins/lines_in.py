"""Which lines of a turn-in are in, which are still to come, which came as a file that cannot be played."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.db.models import F
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from exercises.music.voice import listed
from submissions.models import CountingTake, Take, TurnIn


@dataclass(frozen=True, slots=True)
class LinesIn:
    """Labels of the lines asked for, in their order. What is played live or on paper is in as a whole.

    here        a take counts that can be heard, or may still turn out to be
    to_come     nothing counts, or nothing that can be played
    unplayable  of those to come: a file was turned in that cannot be played
    fell_back   of those here: a file turned in later cannot be played, so this earlier take counts
    """

    here: tuple[str, ...] = ()
    to_come: tuple[str, ...] = ()
    unplayable: tuple[str, ...] = ()
    fell_back: tuple[str, ...] = ()

    @property
    def is_part(self) -> bool:
        """Something is in, and something is not."""
        return bool(self.here and self.to_come)

    @property
    def words(self) -> str:
        """ "Line A is in. Line B is still to play." Empty where all is in."""
        if not self.to_come:
            return ""
        said = [_still_to_play(self.to_come)]
        if self.here:
            said.insert(0, _are_in(self.here))
        return " ".join(said)

    @property
    def alerts(self) -> list[str]:
        """What its student has to know until it is settled, a sentence for each line."""
        lost = _("The recording you turned in for line {line} cannot be played. Record line {line} again.")
        fell = _(
            "The last recording you turned in for line {line} cannot be played. Your earlier one counts. "
            "Record line {line} again, or leave it as it is."
        )
        return [
            *(lost.format(line=label) for label in self.unplayable),
            *(fell.format(line=label) for label in self.fell_back),
        ]


NOTHING = LinesIn()


def _are_in(labels: Collection[str]) -> str:
    return ngettext("Line {lines} is in.", "Lines {lines} are in.", len(labels)).format(
        lines=listed(list(labels))
    )


def _still_to_play(labels: Collection[str]) -> str:
    words = ngettext("Line {lines} is still to play.", "Lines {lines} are still to play.", len(labels))
    return words.format(lines=listed(list(labels)))


def lines_in(turn_ins: Iterable[tuple[TurnIn, Collection[str]]]) -> dict[int, LinesIn]:
    """By turn-in, each given with the lines that are asked for; one query, none for no turn-in."""
    asked = {turn_in.pk: (turn_in, tuple(labels)) for turn_in, labels in turn_ins}
    if not asked:
        return {}
    counting: dict[int, dict[str, CountingTake]] = defaultdict(dict)
    rows = CountingTake.objects.filter(turn_in__in=asked, attempt=F("turn_in__attempt")).select_related(
        "take", "instead_of"
    )
    for row in rows.only("turn_in", "line", "instead_of__state", "take__state"):
        counting[row.turn_in_id][row.line] = row
    return {pk: _lines_in(turn_in, labels, counting[pk]) for pk, (turn_in, labels) in asked.items()}


def _lines_in(turn_in: TurnIn, asked: tuple[str, ...], counting: dict[str, CountingTake]) -> LinesIn:
    if turn_in.state != TurnIn.State.WAITING:
        return NOTHING
    if turn_in.route != TurnIn.Route.RECORDING:
        return LinesIn(here=asked)
    refused = {label for label, row in counting.items() if row.take.state == Take.State.REFUSED}
    here = tuple(label for label in asked if label in counting and label not in refused)
    return LinesIn(
        here=here,
        to_come=tuple(label for label in asked if label not in here),
        unplayable=tuple(label for label in asked if label in refused),
        fell_back=tuple(label for label in here if _fell_back(counting[label])),
    )


def _fell_back(row: CountingTake) -> bool:
    """What was turned in later cannot be played; one that is still being prepared may be."""
    return row.instead_of is not None and row.instead_of.state == Take.State.REFUSED
