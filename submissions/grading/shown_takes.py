"""The takes of one line as the desk shows them: which counts, which is heard, where a missing one is."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from bandroom.people.models import Band
from bandroom.people.templatetags.look import band_clock, clock
from submissions.grading.queries import StudentWork
from submissions.models import Take
from submissions.preparing.findings import Finding
from submissions.takes.words import reason_of

FINDING_WORDS: Mapping[str, str] = {
    Finding.SILENT: "Nothing can be heard in this recording.",
    Finding.VERY_QUIET: "This recording is very quiet.",
    Finding.CLIPPED: "This recording is too loud in places.",
    Finding.CUT_SHORT: "The end of this recording is missing.",
    Finding.GAPS: "For a moment nothing was recorded.",
    Finding.DAMAGED: "Parts of this recording could not be read.",
}
TAKE_SENTENCES: Mapping[Take.State, str] = {
    Take.State.DECLARED: "Turned in; the recording itself is still on its way from the student’s phone",
    Take.State.RECEIVED: "This take has arrived and is being prepared; open the page again in a moment",
    Take.State.PREPARING: "This take has arrived and is being prepared; open the page again in a moment",
    Take.State.READY: "This take can be played",
    Take.State.REFUSED: "This take cannot be played",
    Take.State.DELETED: "This take was deleted because the time it is kept is over",
}


@dataclass(frozen=True, slots=True)
class StandTake:
    """One take of a line, `number` of `of`; `counts` for the attempt that is marked now."""

    take: Take
    number: int
    of: int
    counts: bool
    is_shown: bool
    words: str

    @property
    def is_ready(self) -> bool:
        return self.take.state == Take.State.READY

    @property
    def is_as_it_came(self) -> bool:
        """It could not be prepared, but what was received is kept and may still play."""
        return self.take.state == Take.State.REFUSED and bool(self.take.original)

    @property
    def where(self) -> str:
        """Where a take is that cannot be heard yet, or not any more."""
        reason = f": {reason_of(self.take)}" if self.take.reason else "."
        return f"{TAKE_SENTENCES[Take.State(self.take.state)]}{reason}"

    @property
    def findings(self) -> list[str]:
        """What the check found worth saying of the recording itself."""
        return [FINDING_WORDS[code] for code in self.take.findings if code in FINDING_WORDS]


def takes_of(
    label: str, *, work: StudentWork, attempt: int, wanted: str, band: Band
) -> tuple[StandTake, ...]:
    of_line = [take for take in work.takes if label in take.lines]
    counting = work.counting.get((attempt, label))
    shown = next((take for take in of_line if str(take.pk) == wanted), counting)
    return tuple(
        StandTake(
            take=take,
            number=number,
            of=len(of_line),
            counts=take is counting,
            is_shown=take is shown,
            words=_take_words(take, number, of=len(of_line), counts=take is counting, band=band),
        )
        for number, take in enumerate(of_line, 1)
    )


def _take_words(take: Take, number: int, *, of: int, counts: bool, band: Band) -> str:
    words = [f"take {number} of {of}", day_and_clock(take.declared_at, band)]
    if take.seconds:
        words.append(clock(take.seconds))
    if take.state != Take.State.READY:
        words.append(take.get_state_display())
    if counts:
        words.append("counts")
    return ", ".join(words)


def day_and_clock(at: datetime, band: Band) -> str:
    """ "Tue 7:42 pm", on the band's clock."""
    return f"{band.local(at):%a} {band_clock(at, band)}"
