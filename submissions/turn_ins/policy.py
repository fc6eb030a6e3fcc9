"""What the school decided, with mild defaults for a band that has not decided yet."""

from bandroom.people.models import Band
from submissions.models import Policy


def policy_of(band: Band) -> Policy:
    """The band's policy; unsaved defaults where none was written."""
    return Policy.objects.filter(band=band).first() or Policy(band=band)
