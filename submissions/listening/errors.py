"""The one error of this engine."""


class HearingError(Exception):
    """A take or a score that cannot be heard. The message says what is wrong in one sentence."""
