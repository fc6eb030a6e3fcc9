"""How well does one explanation of a take fit it?

Definition: a hypothesis is one tuning, one reading of the part and the decoder's path through it; its worth
is the path's log-score, less what an unlikely tuning costs.
"""

from dataclasses import dataclass

from submissions.listening import transposition
from submissions.listening.boundaries import Boundaries
from submissions.listening.decoder import Decoding, Search
from submissions.listening.frames import Frames

FAR_TUNING_COST = 2.0


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One way to explain the take."""

    frames: Frames
    boundaries: Boundaries
    search: Search
    decoding: Decoding
    targets: tuple[int, ...]
    transposed: int = 0

    @property
    def seconds_per_beat(self) -> float:
        """The tempo the path was found at."""
        return self.search.seconds_per_beat

    @property
    def worth(self) -> float:
        """Log-score, less what an unlikely tuning costs."""
        return self.decoding.log_score - (FAR_TUNING_COST if abs(self.frames.tuning) > 0.5 else 0.0)

    @property
    def agreement(self) -> float:
        """Share of the written notes that sound as this hypothesis has them."""
        return len(self._right) / len(self.targets)

    @property
    def fit(self) -> float:
        """The same share of the notes reached: a line given up fits as far as it goes."""
        reached = 1 + max(item.note for item in self.decoding.placed)
        return len(self._right) / max(reached, transposition.FEWEST_REACHED)

    @property
    def _right(self) -> set[int]:
        return {item.note for item in self.decoding.placed if item.pitch == self.targets[item.note]}
