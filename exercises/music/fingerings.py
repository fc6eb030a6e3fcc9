"""Which fingering for each note of a line? The right row, the alternate that smooths the line, and why.

Neighbours are the notes of other pitch directly before and after; a rest parts them, a tie or a repetition
does not. Alternates are worded "use this here": at a beginner's tempo the first choice is never wrong.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

from exercises.music.fingering_tables import (
    DEFAULT_SETTINGS,
    PRIMARY,
    STICK_TABLES,
    FingeringKind,
    FingeringRow,
    FingeringSettings,
    OwnRow,
    row_id,
    rows_of,
    table_of,
)
from exercises.music.instruments import Trust
from exercises.music.little_fingers import clarinet_sides
from exercises.music.part import Part
from exercises.music.pitch import Pitch
from exercises.music.slide_travel import slide_positions
from exercises.music.voice import gettext as _
from exercises.music.voice import gettext_noop

RIGHT_HAND_DOWN = gettext_noop("Keep the right hand down: the next note needs it.")
MANY_FINGERS = gettext_noop("Many fingers move here: think of the next note before you leave this one.")
#: Clarinet throat notes, and the notes over the break for which the right hand can wait on its holes.
_THROAT = frozenset(Pitch.parse(name).midi for name in ("G4", "G#4", "A4", "Bb4"))
_OVER_THE_BREAK = frozenset(Pitch.parse(name).midi for name in ("B4", "C5", "C#5", "D5"))
#: Steps where most fingers change at once, by table: written notes on both sides (common practice, no
#: source).
_BIG_CHANGES: Mapping[str, frozenset[tuple[str, str]]] = {
    "saxophone": frozenset({("C5", "D5"), ("C#5", "D5")}),
    "clarinet": frozenset({("Bb4", "B4"), ("A4", "B4"), ("Bb4", "C5"), ("A4", "C5")}),
    "oboe": frozenset({("C5", "D5")}),
    "flute": frozenset({("C5", "D5"), ("C#5", "D5")}),
}


@dataclass(frozen=True, slots=True)
class Fingering:
    """The fingering of one note.

    row         what to press, in words too
    reason      why an alternate stands here; "" for the first choice
    hint        one more thing to know at this note; ""
    moves       what changes against the note before: keys, valves or the position; empty for the first note
    alternates  the other rows of this note
    """

    row: FingeringRow
    reason: str
    hint: str
    moves: tuple[str, ...]
    alternates: tuple[FingeringRow, ...]

    @property
    def row_id(self) -> str:
        return self.row.id

    @property
    def keys(self) -> tuple[str, ...]:
        return self.row.keys or ()

    @property
    def words(self) -> str:
        return self.row.words

    @property
    def trust(self) -> Trust:
        return self.row.trust


@dataclass(frozen=True, slots=True)
class _Rule:
    """One line of `data/alternates.json`, by written MIDI numbers."""

    notes: frozenset[int]
    use: str
    say: str
    next_to: frozenset[int]
    next_to_semitones: tuple[int, ...]
    not_next_to_semitones: tuple[int, ...]
    setting: str

    def fits(self, midi: int, neighbours: Sequence[int], settings: FingeringSettings) -> bool:
        if midi not in self.notes or (self.setting and not getattr(settings, self.setting)):
            return False
        wanted = self.next_to | {midi + step for step in self.next_to_semitones}
        if wanted and not wanted.intersection(neighbours):
            return False
        return not {midi + step for step in self.not_next_to_semitones}.intersection(neighbours)


@dataclass(frozen=True, slots=True)
class _Pick:
    """A choice for one group of equal notes."""

    choice: str = PRIMARY
    reason: str = ""


def finger(
    part: Part,
    *,
    confirmed: frozenset[str] | None = None,
    settings: FingeringSettings = DEFAULT_SETTINGS,
    own: Mapping[str, OwnRow] | None = None,
) -> tuple[Fingering | None, ...]:
    """A fingering for every note of a part, in the order of its notes.

    confirmed  row ids that the director said yes to: then only these, and the computed ones, are given (what
               a
               student sees). None gives every row with its trust (what a director sees).
    settings   the director's switches
    own        the director's corrections by row id
    None stands at a rest, at a note that the table does not have, and where nothing is confirmed.
    """
    table = table_of(part.instrument_id)
    if table in STICK_TABLES:
        return _sticks(part, table, settings)
    midis = [note.pitch.midi if note.pitch else None for note in part.line.notes]
    rows = rows_of(part.instrument_id, settings=settings, own=own)
    groups = _groups(midis)
    heights = [midis[group[0]] for group in groups]
    picks = _picks(table, heights, settings)
    found: list[Fingering | None] = [None] * len(midis)
    before: FingeringRow | None = None
    for place, group in enumerate(groups):
        midi = heights[place]
        choices = rows.get(midi, ()) if midi is not None else ()
        row = _chosen(choices, picks[place], confirmed)
        if row is None:
            before = None
            continue
        following = heights[place + 1] if place + 1 < len(heights) else None
        given = _given(row, choices, picks[place], _hint(table, row, following), before)
        for index in group:
            found[index] = given if index == group[0] else replace(given, moves=())
        before = row
    return tuple(found if confirmed is None else [_as_student_sees(one, confirmed) for one in found])


def _groups(midis: Sequence[int | None]) -> list[list[int]]:
    """Indexes of notes that sound the same one after another; each rest stands alone."""
    groups: list[list[int]] = []
    for index, midi in enumerate(midis):
        if index and midi is not None and midis[index - 1] == midi:
            groups[-1].append(index)
        else:
            groups.append([index])
    return groups


def _picks(table: str, heights: Sequence[int | None], settings: FingeringSettings) -> list[_Pick]:
    if table == "trombone":
        positions = slide_positions(heights, rows_of("trombone", settings=settings))
        return [_Pick(choice, reason) for choice, reason in positions]
    rules = _rules().get(table, ())
    picks = [_by_rules(rules, heights, place, settings) for place in range(len(heights))]
    if table == "clarinet":
        for place, side in enumerate(clarinet_sides(heights)):
            if side is not None:
                picks[place] = _Pick(*side)
    return picks


def _by_rules(
    rules: Sequence[_Rule], heights: Sequence[int | None], place: int, settings: FingeringSettings
) -> _Pick:
    midi = heights[place]
    if midi is None:
        return _Pick()
    beside = (*heights[max(0, place - 1) : place], *heights[place + 1 : place + 2])
    neighbours = [other for other in beside if other is not None]
    rule = next((rule for rule in rules if rule.fits(midi, neighbours, settings)), None)
    return _Pick(rule.use, _(rule.say)) if rule else _Pick()


@cache
def _rules() -> Mapping[str, tuple[_Rule, ...]]:
    text = files("exercises.music").joinpath("data/alternates.json").read_text(encoding="utf-8")
    rules: dict[str, list[_Rule]] = {}
    for stored in json.loads(text)["rules"]:
        rules.setdefault(stored["table"], []).append(
            _Rule(
                notes=frozenset(Pitch.parse(name).midi for name in stored["notes"]),
                use=stored["use"],
                say=stored["say"],
                next_to=frozenset(Pitch.parse(name).midi for name in stored.get("next_to", ())),
                next_to_semitones=tuple(stored.get("next_to_semitones", ())),
                not_next_to_semitones=tuple(stored.get("not_next_to_semitones", ())),
                setting=stored.get("setting", ""),
            )
        )
    return {table: tuple(found) for table, found in rules.items()}


def _chosen(
    choices: Sequence[FingeringRow], pick: _Pick, confirmed: frozenset[str] | None
) -> FingeringRow | None:
    """The picked row, or the first one that may be shown."""
    shown = [row for row in choices if row.keys is not None and _may_be_shown(row, confirmed)]
    return next((row for row in shown if row.choice == pick.choice), shown[0] if shown else None)


def _may_be_shown(row: FingeringRow, confirmed: frozenset[str] | None) -> bool:
    return confirmed is None or row.trust is Trust.COMPUTED or row.id in confirmed


def _given(
    row: FingeringRow, choices: Sequence[FingeringRow], pick: _Pick, hint: str, before: FingeringRow | None
) -> Fingering:
    moves = () if before is None else tuple(sorted(set(row.keys or ()) ^ set(before.keys or ())))
    return Fingering(
        row=row,
        reason=pick.reason if row.choice == pick.choice else "",
        hint=hint,
        moves=moves,
        alternates=tuple(other for other in choices if other is not row and other.keys is not None),
    )


def _as_student_sees(given: Fingering | None, confirmed: frozenset[str]) -> Fingering | None:
    if given is None:
        return None
    row = replace(given.row, trust=Trust.CONFIRMED) if given.row.id in confirmed else given.row
    alternates = tuple(other for other in given.alternates if _may_be_shown(other, confirmed))
    return replace(given, row=row, alternates=alternates)


def _hint(table: str, row: FingeringRow, following: int | None) -> str:
    if table == "clarinet" and row.midi in _THROAT and following in _OVER_THE_BREAK:
        return _(RIGHT_HAND_DOWN)
    if following is not None:
        for low, high in _BIG_CHANGES.get(table, ()):
            if {row.midi, following} == {Pitch.parse(low).midi, Pitch.parse(high).midi}:
                return _(MANY_FINGERS)
    return _(row.hint)


def _sticks(part: Part, table: str, settings: FingeringSettings) -> tuple[Fingering | None, ...]:
    """Right and left in turn, from the right; a tied note is not struck. Never a rule: a setting."""
    if not settings.sticking:
        return (None,) * len(part.line.notes)
    kind = FingeringKind.MALLETS if table == "mallets" else FingeringKind.STICKS
    found: list[Fingering | None] = []
    right = True
    for note, tied in zip(part.line.notes, part.line.tied_in(), strict=True):
        if note.pitch is None or tied:
            found.append(None)
            continue
        stick = "R" if right else "L"
        row = FingeringRow(
            id=row_id(table, note.pitch.midi, stick),
            table=table,
            kind=kind,
            midi=note.pitch.midi,
            choice=stick,
            keys=(stick,),
            spelled=note.pitch,
            when="",
            hint="",
            certainty="common practice",
            trust=Trust.COMMON_PRACTICE,
        )
        found.append(Fingering(row, "", "", (), ()))
        right = not right
    return tuple(found)
