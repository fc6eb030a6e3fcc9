"""Who belongs to a band: bands, sections, seats, and the people who sign in."""

from bandroom.people.models.bands import Band
from bandroom.people.models.erasures import Erasure
from bandroom.people.models.memberships import Membership, RecordingPermission, Role
from bandroom.people.models.seats import Seat
from bandroom.people.models.sections import Section
from bandroom.people.models.tries import WrongTries
from bandroom.people.models.users import User

__all__ = [
    "Band",
    "Erasure",
    "Membership",
    "RecordingPermission",
    "Role",
    "Seat",
    "Section",
    "User",
    "WrongTries",
]
