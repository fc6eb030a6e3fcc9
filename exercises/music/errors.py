"""What was wrong with the music, in one sentence that says what to do."""

from fractions import Fraction


class MusicError(ValueError):
    """Raised for input the engine cannot use. `message` can be shown to a director as it stands.

    line      label of the exercise line ("A", "B") if known
    bar       printed bar number (a pickup bar is 0)
    beat      count in the bar, 1-based
    position  character offset in a typed text, 0-based
    """

    def __init__(
        self,
        message: str,
        *,
        line: str | None = None,
        bar: int | None = None,
        beat: Fraction | None = None,
        position: int | None = None,
    ) -> None:
        super().__init__(message)
        self.message = message
        self.line = line
        self.bar = bar
        self.beat = beat
        self.position = position
