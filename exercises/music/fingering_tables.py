"""Which fingerings are there for a note? The rows of every instrument, with their trust.

Brass rows are computed; woodwind rows come from `data/woodwinds.json`, written from memory, and want a
director's yes; mallet rows are common practice. A row is found by the MIDI number of the written note, never
by spelling.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any

from exercises.music.brass import (
    FOURTH_VALVE,
    TRIGGER,
    BrassChoice,
    BrassRow,
    brass_table,
    positions_words,
    valves_words,
)
from exercises.music.errors import MusicError
from exercises.music.instruments import Trust, instrument
from exercises.music.keywork import WOODWIND_TABLE, key_ids, keys_words
from exercises.music.pitch import Pitch
from exercises.music.voice import gettext as _
from exercises.music.voice import gettext_noop

PRIMARY = "primary"
#: Tables of instruments played with sticks: there is a hand for each note, and no fingering.
STICK_TABLES = frozenset({"mallets", "snare"})
#: Above its throat notes the bass clarinet has vents of its own: no rows there.
BASS_CLARINET_TOP = Pitch.parse("Bb4").midi
#: From here up a double horn uses its B flat side (common practice, no source).
B_FLAT_SIDE_FROM = Pitch.parse("G#4").midi
#: Written notes whose first choice differs from chart to chart, so a director decides.
_HORN_DISPUTED = {73: "Many charts give 2 here.", 74: "Many charts give no valves here."}
_TROMBONE_RAISED = {
    66: "Players mostly take a raised 3rd position here.",
    67: "Players mostly take a raised 2nd position here.",
}
_WHICH_TUBA = "For a tuba in BB flat: one in E flat or CC has other fingerings."
_THIRD_SLIDE = gettext_noop("This one is sharp: the third slide goes out a little.")
_BASS_CLEF_SHARP = gettext_noop("Three valves are very sharp here: listen and lip it down.")
_FAR_REACH = gettext_noop("A long reach: stretch the arm, or let your director show you the trick.")


class FingeringKind(StrEnum):
    """How a fingering is drawn and said."""

    KEYS = "keys"
    VALVES = "valves"
    SLIDE = "slide"
    MALLETS = "mallets"
    STICKS = "sticks"


@dataclass(frozen=True, slots=True)
class FingeringSettings:
    """A director's switches for a band: which fingerings are taught first, what the instruments have."""

    bis_flats: bool = False
    thumb_bb: bool = False
    has_bb_lever: bool = False
    has_left_f: bool = False
    has_trigger: bool = False
    valves_4: bool = False
    double_horn: bool = False
    sticking: bool = True


DEFAULT_SETTINGS = FingeringSettings()


@dataclass(frozen=True, slots=True)
class FingeringRow:
    """One way to finger one written note.

    id            stable name, "saxophone:66:chromatic_F#", under which a director's yes is kept
    choice        "primary" or the name of the alternate
    keys          what is pressed: key ids, valves ("1", "T"), a position ("4"), sticks; None if not given
    when          for an alternate, when it is used
    hint          one more thing to know, for the student too
    for_director  what a director should know when confirming the row
    spelled       the note as it is written, of a row made for one note of a line
    """

    id: str
    table: str
    kind: FingeringKind
    midi: int
    choice: str
    keys: tuple[str, ...] | None
    when: str
    hint: str
    certainty: str
    trust: Trust
    for_director: str = ""
    spelled: Pitch | None = None

    @property
    def words(self) -> str:
        """What is pressed, for the ear and the screen reader."""
        return _not_given() if self.keys is None else keys_in_words(self, self.keys)


@dataclass(frozen=True, slots=True)
class OwnRow:
    """A director's correction of a row, or an alternate of the director's own.

    keys  None leaves the row's keys; hint "" leaves its hint
    """

    keys: tuple[str, ...] | None = None
    hint: str = ""
    when: str = ""


def table_of(instrument_id: str) -> str:
    """Name of the fingering table an instrument reads; all saxophones share one, as do trumpet and
    baritone in treble clef."""
    if instrument_id in WOODWIND_TABLE:
        return WOODWIND_TABLE[instrument_id]
    player = instrument(instrument_id)
    if player.id == "baritone_tc":
        return "trumpet"
    if player.id in ("bells", "xylophone"):
        return "mallets"
    return player.id


def rows_of(
    instrument_id: str,
    *,
    settings: FingeringSettings = DEFAULT_SETTINGS,
    own: Mapping[str, OwnRow] | None = None,
) -> Mapping[int, tuple[FingeringRow, ...]]:
    """All rows by written MIDI number, the primary first, with a director's corrections in them.

    `own` maps row ids to corrections; an id of the table and a note with a new choice adds an alternate.
    Empty for mallets and drums: there the stick is a matter of the line, not of the note.
    """
    table = table_of(instrument_id)
    if table in STICK_TABLES:
        return {}
    rows = _woodwind(instrument_id) if instrument_id in WOODWIND_TABLE else _brass(table, settings)
    return _corrected(rows, table, own) if own else rows


@cache
def _woodwind(instrument_id: str) -> Mapping[int, tuple[FingeringRow, ...]]:
    table = WOODWIND_TABLE[instrument_id]
    text = files("exercises.music").joinpath("data/woodwinds.json").read_text(encoding="utf-8")
    rows: dict[int, tuple[FingeringRow, ...]] = {}
    for stored in json.loads(text)[table]:
        midi = Pitch.parse(stored["note"]).midi
        if instrument_id == "bass_clarinet" and midi > BASS_CLARINET_TOP:
            continue
        alternates = (_woodwind_row(table, midi, one, stored) for one in stored.get("alternates", ()))
        rows[midi] = (_woodwind_row(table, midi, {"id": PRIMARY, **stored}, stored), *alternates)
    return rows


def _woodwind_row(table: str, midi: int, choice: Mapping[str, Any], note: Mapping[str, Any]) -> FingeringRow:
    keys = choice["keys"]
    return FingeringRow(
        id=row_id(table, midi, choice["id"]),
        table=table,
        kind=FingeringKind.KEYS,
        midi=midi,
        choice=choice["id"],
        keys=None if keys is None else tuple(keys),
        when=choice.get("when", ""),
        hint=note.get("hint", "") if choice["id"] == PRIMARY else "",
        certainty=note["certainty"],
        trust=Trust.WANTS_DIRECTOR,
        for_director=note.get("for_director", "") if choice["id"] == PRIMARY else "",
    )


def row_id(table: str, midi: int, choice: str) -> str:
    return f"{table}:{midi}:{choice}"


@cache
def _brass(table: str, settings: FingeringSettings) -> Mapping[int, tuple[FingeringRow, ...]]:
    if table == "horn":
        computed = dict(brass_table("horn_f"))
        if settings.double_horn:
            computed |= {
                midi: row for midi, row in brass_table("horn_bb").items() if midi >= B_FLAT_SIDE_FROM
            }
    else:
        computed = dict(brass_table(table))
    return {midi: _brass_rows(table, row, settings) for midi, row in computed.items()}


def _brass_rows(table: str, row: BrassRow, settings: FingeringSettings) -> tuple[FingeringRow, ...]:
    primary = row.primary
    alternates = list(row.alternates)
    if table == "trombone" and settings.has_trigger and row.midi in TRIGGER:
        alternates.insert(0, primary)
        primary = BrassChoice(TRIGGER[row.midi], row.primary.harmonic)
    elif table in ("baritone_bc", "tuba") and settings.valves_4 and primary.fingering in FOURTH_VALVE:
        alternates.insert(0, primary)
        primary = BrassChoice(FOURTH_VALVE[primary.fingering], primary.harmonic)
    first = _brass_row(table, row.midi, PRIMARY, primary)
    return (first, *(_brass_row(table, row.midi, one.fingering, one) for one in alternates))


def _brass_row(table: str, midi: int, choice: str, way: BrassChoice) -> FingeringRow:
    slide = table == "trombone"
    disputed = {"horn": _HORN_DISPUTED, "trombone": _TROMBONE_RAISED}.get(table, {}).get(midi, "")
    unsure = bool(disputed) or table == "tuba"
    return FingeringRow(
        id=row_id(table, midi, choice),
        table=table,
        kind=FingeringKind.SLIDE if slide else FingeringKind.VALVES,
        midi=midi,
        choice=choice,
        keys=_brass_keys(way.fingering, slide),
        when="" if choice == PRIMARY else way.note or "Another way to the same note.",
        hint=_brass_hint(table, way.fingering) if choice == PRIMARY else "",
        certainty="medium" if disputed else "high",
        trust=Trust.WANTS_DIRECTOR if unsure else Trust.COMPUTED,
        for_director=(disputed or (_WHICH_TUBA if table == "tuba" else "")) if choice == PRIMARY else "",
    )


def _brass_keys(fingering: str, slide: bool) -> tuple[str, ...]:
    """Valves as "1", "2"..., the thumb as "T"; a slide position as its number."""
    thumb = ("T",) if fingering.startswith("T") else ()
    rest = fingering.removeprefix("T")
    return (*thumb, rest) if slide else (*thumb, *(valve for valve in rest.split("-") if valve != "0"))


def _brass_hint(table: str, fingering: str) -> str:
    if table == "trumpet" and fingering in ("1-3", "1-2-3"):
        return _THIRD_SLIDE
    if table in ("baritone_bc", "tuba") and fingering == "1-2-3":
        return _BASS_CLEF_SHARP
    return _FAR_REACH if table == "trombone" and fingering in ("6", "7") else ""


def _corrected(
    rows: Mapping[int, tuple[FingeringRow, ...]], table: str, own: Mapping[str, OwnRow]
) -> Mapping[int, tuple[FingeringRow, ...]]:
    corrected = {midi: [_correct(row, own.get(row.id)) for row in choices] for midi, choices in rows.items()}
    known = {row.id for choices in rows.values() for row in choices}
    for ident, change in own.items():
        name, _colon, rest = ident.partition(":")
        midi_text, _colon, choice = rest.partition(":")
        if name != table or ident in known or not midi_text.isdecimal() or int(midi_text) not in rows:
            continue
        model = rows[int(midi_text)][0]
        added = replace(
            model,
            id=ident,
            choice=choice,
            keys=(),
            hint="",
            when="",
            trust=Trust.WANTS_DIRECTOR,
            for_director="",
        )
        corrected[int(midi_text)].append(_correct(added, change))
    return {midi: tuple(choices) for midi, choices in corrected.items()}


def _correct(row: FingeringRow, change: OwnRow | None) -> FingeringRow:
    if change is None:
        return row
    keys = row.keys if change.keys is None else change.keys
    if keys is not None:
        check_keys(row.table, row.kind, keys)
    return replace(
        row,
        keys=keys,
        hint=change.hint or row.hint,
        when=change.when or row.when,
    )


def check_keys(table: str, kind: FingeringKind, keys: tuple[str, ...]) -> None:
    """Raise MusicError for a key that the instrument does not have."""
    if kind is FingeringKind.KEYS:
        allowed = set(key_ids(table))
    elif kind is FingeringKind.SLIDE:
        allowed = {"T", *map(str, range(1, 8))}
    else:
        allowed = {"T", "1", "2", "3", "4"}
    for key in keys:
        if key not in allowed:
            raise MusicError(f"There is no key “{key}” here: choose from the keys in the picture.")


def keys_in_words(row: FingeringRow, keys: tuple[str, ...]) -> str:
    if row.kind is FingeringKind.KEYS:
        return keys_words(row.table, keys)
    if row.kind in (FingeringKind.MALLETS, FingeringKind.STICKS):
        return _stick_words(row)
    thumb = "T" if "T" in keys else ""
    rest = [key for key in keys if key != "T"]
    if row.kind is FingeringKind.SLIDE:
        return positions_words(thumb + (rest[0] if rest else "1"))
    return valves_words(thumb + ("-".join(rest) or "0"))


def _stick_words(row: FingeringRow) -> str:
    right = row.keys == ("R",)
    if row.kind is FingeringKind.MALLETS and row.spelled is not None:
        words = _("Right stick on {note}") if right else _("Left stick on {note}")
        return words.format(note=row.spelled.spoken)
    return _("Right stick") if right else _("Left stick")


def _not_given() -> str:
    return _("Not given: ask your director.")
