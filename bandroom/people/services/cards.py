"""Issue sign-in cards: every card gets a new passphrase, and what was signed in with the old one ends.

A passphrase exists in plain only between `draw_cards` and the printed page: the database has its hash.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.hashers import make_password
from django.db import transaction

from bandroom.people.errors import Refused
from bandroom.people.models import Band, Membership, User
from bandroom.people.passphrases import new_passphrase, normal_passphrase
from bandroom.people.queries import MemberPlace


@dataclass(frozen=True, slots=True)
class Card:
    """What stands on one card. `name` is as short as the director needs to hand it out: "Amaru V."."""

    membership: int
    user: int
    name: str
    section: str
    instrument: str
    name_id: str
    passphrase: str
    hashed: str

    @property
    def words(self) -> tuple[str, ...]:
        return tuple(self.passphrase.split("-"))


def _short_name(user: User) -> str:
    return f"{user.first_name} {user.last_name[:1]}.".strip() if user.last_name else user.first_name


def draw_cards(
    places: Iterable[MemberPlace], *, passphrases: Mapping[int, str] | None = None
) -> tuple[Card, ...]:
    """Cards with fresh passphrases, in the order of `places`; nothing is written.

    A card carries the first letter of the last name, the whole name only where two cards would look the same.
    `passphrases` (by membership pk) are used instead of drawn ones, for invented schools.
    """
    places = list(places)
    shared = Counter(_short_name(place.membership.user).casefold() for place in places)
    cards = []
    for place in places:
        user, seat = place.membership.user, place.seat
        short = _short_name(user)
        given = (passphrases or {}).get(place.membership.pk)
        passphrase = normal_passphrase(given) if given else new_passphrase()
        cards.append(
            Card(
                membership=place.membership.pk,
                user=user.pk,
                name=user.full_name if shared[short.casefold()] > 1 else short,
                section=str(seat.section) if seat else "",
                instrument=seat.get_instrument_display() if seat else "",
                name_id=user.sign_in_name,
                passphrase=passphrase,
                hashed=make_password(passphrase),
            )
        )
    return tuple(cards)


@transaction.atomic
def keep_cards(*, band: Band, cards: Iterable[Card], at: datetime) -> None:
    """From now on the passphrases of `cards` are the ones that work."""
    drawn = {card.membership: card for card in cards}
    memberships = list(
        Membership.objects.select_for_update()
        .filter(band=band, pk__in=drawn, ended_at__isnull=True)
        .only("pk", "user_id")
    )
    if len(memberships) != len(drawn):
        raise Refused("A student has left the band in the meantime: choose again whose cards to print.")
    User.objects.bulk_update(
        [User(pk=m.user_id, password=drawn[m.pk].hashed) for m in memberships], ["password"]
    )
    Membership.objects.filter(pk__in=drawn).update(card_issued_at=at)
