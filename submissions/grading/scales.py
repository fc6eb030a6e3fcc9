"""The rubric as one line's row of steps, each with the mark that stands there."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from submissions.grading.services.marks import NOT_YET, mark_key
from submissions.models import Criterion, Level, Mark

NOT_YET_WORDS = "not yet: nothing to judge"


@dataclass(frozen=True, slots=True)
class LevelStep:
    key: str
    short: str
    words: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class Scale:
    """One criterion of one line; `seen` is the mark as the page shows it."""

    line: str
    criterion: Criterion
    steps: tuple[LevelStep, ...]
    seen: str
    given_by: str  # only where it was another adult

    @property
    def name(self) -> str:
        return f"mark-{self.line}-{self.criterion.pk}"

    @property
    def seen_name(self) -> str:
        return f"seen-{self.line}-{self.criterion.pk}"

    @property
    def keys(self) -> str:
        top = len(self.steps) - 1
        return f"1–{top}" if top > 1 else "1"


def scale_of(
    line: str, criterion: Criterion, levels: Sequence[Level], mark: Mark | None, posted: Mapping[str, str]
) -> Scale:
    """`posted`: what a refused form held, shown instead of the mark that was saved."""
    seen = mark_key(mark)
    picked = posted.get(f"mark-{line}-{criterion.pk}", seen)
    steps = [LevelStep(NOT_YET, "–", NOT_YET_WORDS, picked == NOT_YET)]
    steps += [LevelStep(str(lv.pk), str(lv.value), lv.words, picked == str(lv.pk)) for lv in levels]
    by = str(mark.given_by) if mark and mark.given_by else ""
    return Scale(line=line, criterion=criterion, steps=tuple(steps), seen=seen, given_by=by)
