"""What to get ready before playing: the usual list of an instrument, or the section's own.

The usual lists are common practice, no source; a director edits them for each section.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.utils.translation import gettext, gettext_noop, override

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Seat, Section, User
from exercises.music.instruments import Family, instrument
from exercises.music.pitch import Pitch
from submissions.models import Checklist

MOST_ITEMS, LONGEST_ITEM = 12, 120

_SIT = gettext_noop("Sit tall. Feet flat, shoulders down.")
_SINGLE_REED = (
    gettext_noop("Wet your reed."),
    gettext_noop("Line up the reed with the tip of the mouthpiece."),
    _SIT,
)
_DOUBLE_REED = (gettext_noop("Soak your reed in water for a few minutes."), _SIT)
_BRASS = (gettext_noop("Buzz on your mouthpiece for a few breaths."), gettext_noop("Empty the water."), _SIT)
_STRAP = gettext_noop("Hook on your strap. Bring the horn to you, not your neck to the horn.")
_SLIDE = gettext_noop("Check that your slide moves with ease.")
_VALVES = gettext_noop("Check that your valves move with ease.")
_STICKS = (
    gettext_noop("Set the stand so your arms hang loose."),
    gettext_noop("Hold both sticks the same way."),
    gettext_noop("Stand tall."),
)

_USUAL: Mapping[Instrument, tuple[str, ...]] = {
    Instrument.FLUTE: (
        gettext_noop("Line up the mouth hole with the first key."),
        gettext_noop("Breathe low and slow."),
        _SIT,
    ),
    Instrument.OBOE: _DOUBLE_REED,
    Instrument.BASSOON: (*_DOUBLE_REED[:1], gettext_noop("Set your seat strap."), _SIT),
    Instrument.CLARINET: _SINGLE_REED,
    Instrument.BASS_CLARINET: (
        *_SINGLE_REED[:2],
        gettext_noop("Set the peg so the mouthpiece comes to you."),
        _SIT,
    ),
    Instrument.ALTO_SAX: (*_SINGLE_REED[:2], _STRAP, _SIT),
    Instrument.TENOR_SAX: (*_SINGLE_REED[:2], _STRAP, _SIT),
    Instrument.BARI_SAX: (*_SINGLE_REED[:2], _STRAP, _SIT),
    Instrument.TROMBONE: (*_BRASS[:2], _SLIDE, _SIT),
    Instrument.BELLS: _STICKS,
    Instrument.XYLOPHONE: _STICKS,
    Instrument.SNARE: (gettext_noop("Turn the snares on."), *_STICKS),
}


def usual_items(player: Instrument) -> tuple[str, ...]:
    """The list of an instrument whose section has none of its own, the tuning note last; in English."""
    usual = _USUAL.get(player, (*_BRASS[:2], _VALVES, _SIT))
    if instrument(player).family is Family.PERCUSSION:
        return usual
    with override("en"):
        return (*usual, tuning_item(player))


def tuning_item(player: Instrument) -> str:
    """Concert B flat as this instrument names it, in the language of the page."""
    written = Pitch.parse("Bb3").moved(instrument(player).from_concert)
    words = gettext("Play one long {note} to tune.").format(note=written.spoken)
    if written.printed_letter != "B♭":
        words += " " + gettext("The band calls it concert B flat.")
    return words


def said_items(items: Iterable[str], player: str) -> tuple[tuple[str, str], ...]:
    """Each item as it is kept, and as the page says it: the usual ones in its language, others as written."""
    asked = Instrument(player)
    said = {item: gettext(item) for usual in (*_USUAL.values(), (*_BRASS, _VALVES)) for item in usual}
    if instrument(asked).family is not Family.PERCUSSION:
        said[usual_items(asked)[-1]] = tuning_item(asked)
    return tuple((item, said.get(item, item)) for item in items)


def items_for(seat: Seat) -> tuple[str, ...]:
    """One query."""
    own = Checklist.objects.filter(section=seat.section_id).first()
    return tuple(own.items) if own else usual_items(Instrument(seat.instrument))


def usual_for_section(instruments: Iterable[Instrument]) -> tuple[str, ...]:
    """What to start from in a section of several instruments: each item once."""
    return tuple(dict.fromkeys(item for player in instruments for item in usual_items(player)))


@dataclass(frozen=True, slots=True)
class SectionList:
    """What one section gets ready; `is_own` where a director wrote it."""

    section: Section
    items: tuple[str, ...]
    is_own: bool


def section_lists(*, band: Band) -> tuple[SectionList, ...]:
    """Every section of the band; two queries."""
    players: defaultdict[int, list[Instrument]] = defaultdict(list)
    for seat in Seat.objects.filter(section__band=band, until__isnull=True):
        players[seat.section_id].append(Instrument(seat.instrument))
    lists = []
    for section in Section.objects.filter(band=band).select_related("checklist"):
        own = getattr(section, "checklist", None)
        items = tuple(own.items) if own else usual_for_section(_in_score_order(players[section.pk]))
        lists.append(SectionList(section=section, items=items, is_own=own is not None))
    return tuple(lists)


def instruments_of(section: Section) -> tuple[Instrument, ...]:
    """What is played in a section today, in score order; one query."""
    held = Seat.objects.filter(section=section, until__isnull=True).values_list("instrument", flat=True)
    return _in_score_order(Instrument(each) for each in held)


def _in_score_order(players: Iterable[Instrument]) -> tuple[Instrument, ...]:
    found = set(players)
    return tuple(each for each in Instrument if each in found)


def write_checklist(*, section: Section, items: Sequence[str], by: User, at: datetime) -> None:
    Checklist.objects.update_or_create(
        section=section, defaults={"items": list(items), "changed_by": by, "changed_at": at}
    )


def back_to_usual(*, section: Section) -> bool:
    """Whether there was a list of its own."""
    return bool(Checklist.objects.filter(section=section).delete()[0])
