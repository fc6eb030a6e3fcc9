"""A refusal that a person can act on: the same one everywhere."""

from bandroom.people.errors import Refused

__all__ = ["Refused"]
