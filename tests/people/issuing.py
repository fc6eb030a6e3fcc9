"""Cards drawn and kept in one go, for tests that need no printed page."""

from collections.abc import Iterable, Mapping
from datetime import datetime

from bandroom.people.models import Band
from bandroom.people.queries import places_of
from bandroom.people.services.cards import Card, draw_cards, keep_cards


def issue_cards(
    *,
    band: Band,
    memberships: Iterable[int] | None = None,
    passphrases: Mapping[int, str] | None = None,
    at: datetime,
) -> tuple[Card, ...]:
    """For students of `band` (all of them without `memberships`, their pks)."""
    wanted = None if memberships is None else set(memberships)
    places = [p for p in places_of(band) if wanted is None or p.membership.pk in wanted]
    cards = draw_cards(places, passphrases=passphrases)
    keep_cards(band=band, cards=cards, at=at)
    return cards
