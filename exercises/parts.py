"""The parts of an exercise: what one instrument reads of a line, and its engraving.

Both functions ask the database for what else goes into a part (the other lines, the director's decisions, the
band's ranges and policy) once for each `Exercise` object; rows fetched with `Exercise.objects.for_parts()`
cost nothing more. Engravings are cached by the hash of all that goes into them, so they are never stale; a
cached one is shown without loading the engraver.
"""

import hashlib
import json
import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from django.core.cache import caches
from django.core.exceptions import ObjectDoesNotExist
from django.db.models import prefetch_related_objects
from django.utils.translation import get_language

from bandroom import room
from bandroom.people.models import Band
from exercises.models import PARTS_NEED, Exercise, ExerciseLine, PartChoice, PartPolicy
from exercises.music import ENGINE_VERSION
from exercises.music.engraving import Engraving, engrave
from exercises.music.instruments import Ranges
from exercises.music.instruments import instrument as instrument_of
from exercises.music.musicxml_out import check_prefix
from exercises.music.part import Part, choose_octave, make_part
from exercises.music.pitch import Pitch
from exercises.music.reading import NoteReading, read_part
from exercises.music.score import Line, line_from_json

logger = logging.getLogger(__name__)

#: Stands for the prefix in a stored drawing, so that a part is engraved once for all pages that show it.
_ANY_PREFIX = "anyprefix0"


class Layout(StrEnum):
    """Where an engraved line is shown."""

    PHONE = "phone"
    DESK = "desk"
    #: With room under each system for letter names and counts, printed or pencilled in.
    PAPER = "paper"
    #: As at the desk and on a phone, with room under each system for letter names and counts.
    READING = "reading"
    READING_PHONE = "reading_phone"
    #: As at the desk and on a phone, with room under each system for what was heard.
    MARKING = "marking"
    MARKING_PHONE = "marking_phone"


@dataclass(frozen=True, slots=True)
class LayoutSize:
    """Width of a drawing and the most bars on one of its systems."""

    width_px: int
    bars_per_system: int
    #: Between two systems; the engraver's own is for the eye alone.
    gap_px: float = 14.0
    #: From one note to the next; a name such as B flat takes this much.
    note_gap_px: float = 0.0


#: Width of a letter with its sign in the row of names.
NAME_PX = 20.0
SIZES: Mapping[Layout, LayoutSize] = {
    Layout.PHONE: LayoutSize(width_px=342, bars_per_system=2),
    Layout.DESK: LayoutSize(width_px=1040, bars_per_system=8),
    Layout.PAPER: LayoutSize(width_px=720, bars_per_system=4, gap_px=58.0, note_gap_px=NAME_PX),
    Layout.READING: LayoutSize(width_px=1040, bars_per_system=8, gap_px=58.0, note_gap_px=NAME_PX),
    Layout.READING_PHONE: LayoutSize(width_px=342, bars_per_system=2, gap_px=58.0, note_gap_px=NAME_PX),
    Layout.MARKING: LayoutSize(width_px=1340, bars_per_system=8, gap_px=104.0),
    Layout.MARKING_PHONE: LayoutSize(width_px=342, bars_per_system=2, gap_px=104.0),
}
#: One row of the wall of parts; on a phone it is scrolled, so that bars stay under each other.
WALL_SIZE = LayoutSize(width_px=780, bars_per_system=8)


@dataclass(frozen=True, slots=True)
class PartRules:
    """Everything but the notes that decides how one instrument reads an exercise.

    octave    the director's octave shift, None to let the engine choose
    left_out  indexes of notes this part rests on, by line label
    instead   written pitches to play in place of the line's own, by line label and index
    """

    instrument: str
    octave: int | None
    ranges: Ranges | None
    courtesy: bool
    key_limit: int
    left_out: Mapping[str, frozenset[int]]
    instead: Mapping[str, Mapping[int, Pitch]]


def part_rules(*, exercise: Exercise, instrument: str) -> PartRules:
    """What the band and its director decided about this instrument's part. Raises MusicError."""
    prefetch_related_objects([exercise], *PARTS_NEED)
    rules = band_rules(band=exercise.band, instrument=instrument)
    choice = part_choice(exercise=exercise, instrument=instrument)
    if choice is None:
        return rules
    return replace(
        rules,
        octave=choice.octave,
        left_out={label: frozenset(indexes) for label, indexes in choice.left_out.items()},
        instead=_pitches(choice.instead),
    )


def part_choice(*, exercise: Exercise, instrument: str) -> PartChoice | None:
    """What the director decided about this instrument's part of the exercise, if anything."""
    return next((choice for choice in exercise.part_choices.all() if choice.instrument == instrument), None)


def band_rules(*, band: Band, instrument: str) -> PartRules:
    """What holds for this instrument in every exercise of the band. Raises MusicError."""
    instrument_of(instrument)
    policy = part_policy(band)
    own = next((r for r in band.range_choices.all() if r.instrument == instrument), None)
    return PartRules(
        instrument=instrument,
        octave=None,
        ranges=own.ranges if own else None,
        courtesy=policy.courtesy_signs,
        key_limit=policy.key_limit,
        left_out={},
        instead={},
    )


def ranges_of(*, band: Band, instrument: str) -> Ranges | None:
    """What the band's players of this instrument can reach; None for one without pitches."""
    return band_rules(band=band, instrument=instrument).ranges or instrument_of(instrument).ranges


def part_policy(band: Band) -> PartPolicy:
    """The band's policy, or the defaults (unsaved) where it has made none."""
    try:
        return band.part_policy
    except ObjectDoesNotExist:
        return PartPolicy(band=band)


def _pitches(stored: Mapping[str, Mapping[str, str]]) -> dict[str, dict[int, Pitch]]:
    return {
        label: {int(index): Pitch.parse(name) for index, name in places.items()}
        for label, places in stored.items()
    }


def part_of(*, line: ExerciseLine, instrument: str) -> Part:
    """The line as this instrument reads it, one octave for all lines of the exercise.

    Raises MusicError for an unknown instrument or a line that cannot be read.
    """
    rules = part_rules(exercise=line.exercise, instrument=instrument)
    return part_by_rules(line_from_json(line.score), rules=rules, together=_lines(line))


def readings_of(part: Part, *, line: ExerciseLine) -> tuple[NoteReading, ...]:
    """Why each note of the line's part sounds as it does, under the band's policy of signs."""
    return read_part(part, courtesy=part_policy(line.exercise.band).courtesy_signs)


def part_by_rules(line: Line, *, rules: PartRules, together: tuple[Line, ...]) -> Part:
    """`together`: all lines of the exercise, for which one octave is chosen."""
    octave = rules.octave
    if octave is None:
        octave = choose_octave(together, rules.instrument, ranges=rules.ranges, key_limit=rules.key_limit)
    return make_part(
        line,
        rules.instrument,
        octave=octave,
        ranges=rules.ranges,
        key_limit=rules.key_limit,
        left_out=_within(line, rules.left_out.get(line.label, frozenset())),
        instead={
            index: pitch
            for index, pitch in rules.instead.get(line.label, {}).items()
            if index < len(line.notes)
        },
    )


def _within(line: Line, indexes: frozenset[int]) -> frozenset[int]:
    return frozenset(index for index in indexes if index < len(line.notes))


def _lines(line: ExerciseLine) -> tuple[Line, ...]:
    return tuple(line_from_json(row.score) for row in line.exercise.lines.all())


def engraved_line(*, line: ExerciseLine, instrument: str, layout: Layout, prefix: str) -> Engraving:
    """The part of this line drawn for `layout`; every id in it begins with `prefix` and a hyphen.

    Raises MusicError for an unknown instrument, a line that cannot be read, or a bar too full to print.
    """
    check_prefix(prefix)
    rules = part_rules(exercise=line.exercise, instrument=instrument)
    size = SIZES[layout]
    key = _hashed(_ingredients(line=line, rules=rules, size=size))
    stored = _drawn(key)
    if stored is None:
        engraving = engrave(
            part_by_rules(line_from_json(line.score), rules=rules, together=_lines(line)),
            prefix=_ANY_PREFIX,
            width_px=size.width_px,
            bars_per_system=size.bars_per_system,
            courtesy=rules.courtesy,
            system_gap_px=size.gap_px,
            note_gap_px=size.note_gap_px,
        )
        stored = json.dumps(engraving.to_json(), separators=(",", ":"))
        _keep(key, stored)
    return Engraving.from_json(json.loads(stored.replace(_ANY_PREFIX, prefix)))


def engraved_wall(*, line: ExerciseLine, instruments: Sequence[str], prefix: str) -> tuple[Engraving, ...]:
    """The line as each of these instruments reads it, bar lines under each other. Raises MusicError."""
    check_prefix(prefix)
    rules = [part_rules(exercise=line.exercise, instrument=instrument) for instrument in instruments]
    key = _hashed(["wall", *(_ingredients(line=line, rules=each, size=WALL_SIZE) for each in rules)])
    stored = _drawn(key)
    if stored is None:
        from exercises.music.aligned import engrave_aligned  # noqa: PLC0415 - loads the engraver

        written, together = line_from_json(line.score), _lines(line)
        engravings = engrave_aligned(
            [part_by_rules(written, rules=each, together=together) for each in rules],
            prefix=_ANY_PREFIX,
            width_px=WALL_SIZE.width_px,
            bars_per_system=WALL_SIZE.bars_per_system,
            courtesy=all(each.courtesy for each in rules),
        )
        stored = json.dumps([each.to_json() for each in engravings], separators=(",", ":"))
        _keep(key, stored)
    return tuple(Engraving.from_json(each) for each in json.loads(stored.replace(_ANY_PREFIX, prefix)))


def _drawn(key: str) -> str | None:
    """A drawing of before; None as well where the cache cannot be read: then it is drawn once more."""
    try:
        stored: str | None = caches["engravings"].get(key)
    except Exception:
        # Each kind of cache fails in its own way.
        logger.warning("A drawing could not be read from the cache", exc_info=True)
        return None
    return stored


def _keep(key: str, stored: str) -> None:
    """For the next time. A disk that is full or may not be written costs time and breaks no page."""
    if room.is_short():
        return
    try:
        caches["engravings"].set(key, stored)
    except Exception:
        # As above.
        logger.warning("A drawing could not be kept in the cache", exc_info=True)


def _ingredients(*, line: ExerciseLine, rules: PartRules, size: LayoutSize) -> list[Any]:
    """All that goes into a drawing."""
    return [
        ENGINE_VERSION,
        get_language(),  # names of notes are in it
        [size.width_px, size.bars_per_system, size.gap_px, size.note_gap_px],
        line.label,
        line.score,
        [row.score for row in line.exercise.lines.all()],
        repr(rules.ranges),
        [rules.instrument, rules.octave, rules.courtesy, rules.key_limit],
        {label: sorted(indexes) for label, indexes in rules.left_out.items()},
        {
            label: {str(index): pitch.name for index, pitch in places.items()}
            for label, places in rules.instead.items()
        },
    ]


def _hashed(contents: list[Any]) -> str:
    text = json.dumps(contents, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
