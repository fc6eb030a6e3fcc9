"""Fingerings as a page shows them: for the notes of a line, and as the whole table of an instrument."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import prefetch_related_objects
from django.utils.safestring import SafeString, mark_safe

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band
from exercises.fingerings import confirmed_rows, fingering_settings, own_rows
from exercises.models import ExerciseLine, FingeringChoice
from exercises.music.diagrams import diagram_svg
from exercises.music.fingering_tables import (
    STICK_TABLES,
    FingeringKind,
    FingeringRow,
    OwnRow,
    rows_of,
    table_of,
)
from exercises.music.fingerings import Fingering, finger
from exercises.music.instruments import Trust
from exercises.music.pitch import Pitch
from exercises.music.spelling import spell
from exercises.pages.reading_guide import place_words
from exercises.parts import part_of

TRUST_WORDS = {
    Trust.COMPUTED: "computed",
    Trust.COMMON_PRACTICE: "common practice",
    Trust.WANTS_DIRECTOR: "wants your yes",
    Trust.CONFIRMED: "checked by your director",
}
#: The director's switches: name in the engine, what it means, and for which tables.
SWITCHES: Mapping[str, tuple[str, frozenset[str]]] = {
    "bis_flats": ("Saxophones: bis B♭ first, where no B natural is next to it", frozenset({"saxophone"})),
    "thumb_bb": ("Flutes: thumb B♭ first, where no B natural is next to it", frozenset({"flute"})),
    "has_bb_lever": ("Flutes have the side lever for B♭", frozenset({"flute"})),
    "has_left_f": ("Oboes have the left F key", frozenset({"oboe"})),
    "has_trigger": ("Trombones have the F attachment", frozenset({"trombone"})),
    "valves_4": ("Baritones and tubas have a fourth valve", frozenset({"baritone_bc", "tuba"})),
    "double_horn": ("Horns are double horns", frozenset({"horn"})),
    "sticking": (
        "Bells and snare drum: write right and left under the notes",
        STICK_TABLES,
    ),
}


@dataclass(frozen=True, slots=True)
class NoteFingering:
    """One note of a line with its fingering; `diagram` says the note and the fingering in its name.

    trust  how far it can be believed, in words
    """

    index: int
    place: str
    name: str
    spoken: str
    diagram: SafeString
    words: str
    reason: str
    hint: str
    trust: str


def note_fingerings(
    *, line: ExerciseLine, instrument: str, confirmed_only: bool = False
) -> tuple[NoteFingering, ...]:
    """Fingerings of a part, one for each note that is begun; a note without one is not in the list.

    confirmed_only  as a student sees it: rows the director said yes to, and computed ones
    Raises MusicError.
    """
    part = part_of(line=line, instrument=instrument)
    band = line.exercise.band
    prefetch_related_objects([band], "fingering_choices")
    choices = tuple(choice for choice in band.fingering_choices.all() if choice.instrument == instrument)
    found = finger(
        part,
        confirmed=confirmed_rows(choices) if confirmed_only else None,
        settings=fingering_settings(band),
        own=own_rows(choices),
    )
    tied, refs = part.line.tied_in(), part.line.refs()
    said = confirmed_rows(choices)
    return tuple(
        _note_fingering(index, place_words(part, refs[index]), pitch, given, said)
        for index, given in enumerate(found)
        if given is not None and not tied[index] and (pitch := part.line.notes[index].pitch) is not None
    )


def _note_fingering(
    index: int, place: str, pitch: Pitch, given: Fingering, confirmed: frozenset[str]
) -> NoteFingering:
    drum = given.row.kind is FingeringKind.STICKS
    spoken = "" if drum else pitch.spoken
    return NoteFingering(
        index=index,
        place=place,
        name="" if drum else pitch.printed_letter,
        spoken=spoken,
        diagram=picture(given.row, name=spoken, moves=given.moves),
        words=given.words,
        reason=given.reason,
        hint=given.hint,
        trust=TRUST_WORDS[Trust.CONFIRMED if given.row.id in confirmed else given.trust],
    )


def picture(row: FingeringRow, *, name: str, moves: Sequence[str] = ()) -> SafeString:
    return mark_safe(diagram_svg(row, name=name, moves=moves))  # noqa: S308 - the engine escapes all it draws


@dataclass(frozen=True, slots=True)
class TableRow:
    """One way to play one note, for the director to check.

    is_own      an alternate the director added
    is_changed  the director corrected it
    waits       a woodwind's or disputed row without a yes: students do not see it
    """

    row: FingeringRow
    diagram: SafeString
    trust: str
    is_confirmed: bool
    is_own: bool
    is_changed: bool
    waits: bool
    by: str

    @property
    def when(self) -> str:
        """When an alternate is used, as a sentence; directors write theirs with and without a full stop."""
        text = self.row.when.strip()
        return f"{text[:1].upper()}{text[1:]}{'' if text[-1:] in '.!?' else '.'}"


@dataclass(frozen=True, slots=True)
class TableNote:
    """All rows of one written note, the first choice first."""

    midi: int
    name: str
    spoken: str
    rows: tuple[TableRow, ...]


def fingering_table(
    *, band: Band, instrument: Instrument, choices: Sequence[FingeringChoice]
) -> tuple[TableNote, ...]:
    """Every note of the instrument's table from the lowest up; empty for mallets and drums.

    choices  the director's words on this instrument's rows
    """
    by_row = {choice.row_id: choice for choice in choices}
    own = own_rows(choices)
    settings = fingering_settings(band)
    known = {row.id for rows in rows_of(instrument, settings=settings).values() for row in rows}
    return tuple(
        TableNote(
            midi=midi,
            name=_table_name(midi)[0],
            spoken=_table_name(midi)[1],
            rows=tuple(_table_row(row, by_row.get(row.id), known, own) for row in rows),
        )
        for midi, rows in sorted(rows_of(instrument, settings=settings, own=own).items())
    )


def _table_row(
    row: FingeringRow, choice: FingeringChoice | None, known: set[str], own: Mapping[str, OwnRow]
) -> TableRow:
    confirmed = choice is not None and choice.confirmed_at is not None
    return TableRow(
        row=row,
        diagram=picture(row, name=_table_name(row.midi)[1]),
        trust=TRUST_WORDS[Trust.CONFIRMED if confirmed else row.trust],
        is_confirmed=confirmed,
        is_own=row.id not in known,
        is_changed=row.id in own and row.id in known,
        waits=not confirmed and row.keys is not None and row.trust is Trust.WANTS_DIRECTOR,
        by=str(choice.confirmed_by) if choice and choice.confirmed_by else "",
    )


def _table_name(midi: int) -> tuple[str, str]:
    """Printed and spoken name of a written note; a note between two letters has both."""
    flat = spell([midi], -5)[0]
    sharp = spell([midi], 5)[0]
    assert flat is not None  # noqa: S101 - a MIDI number always has a name
    assert sharp is not None  # noqa: S101
    if flat.alter == 0 or sharp.alter == 0:
        plain = flat if flat.alter == 0 else sharp
        return plain.printed, plain.spoken
    return f"{sharp.printed} / {flat.printed}", f"{sharp.spoken} or {flat.spoken}"


def has_table(instrument: str) -> bool:
    return table_of(instrument) not in STICK_TABLES
