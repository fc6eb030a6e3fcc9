"""Refusals that a person can act on: the same everywhere."""

from bandroom.people.errors import Refused

__all__ = ["Changed", "Incomplete", "Refused"]


class Changed(Refused):
    """Another adult was quicker. `now` is what stands there, in the form a page keeps it."""

    def __init__(self, sentence: str, *, now: str) -> None:
        super().__init__(sentence)
        self.now = now


class Incomplete(Refused):
    """Criteria without a mark; returning goes on only when the director says so."""
