"""What does a note read as when one of the rules for signs is broken?

Definition: by standard notation the key signature alters its letters in every octave, and a sign holds on its
own line or space up to the barline. A misreading breaks one of these rules: throughout the line, as a habit
does, or at one note, with everything before it read right.

Assumptions: a sign is printed where the key and the bar so far do not give the pitch, or as a reminder where
the note says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from submissions.listening.evidence import Cause
from submissions.listening.score import LETTERS, WrittenNote
from submissions.listening.spelling import key_alters

type StaffPlace = tuple[str, int]
"""A line or space: letter and octave."""


@dataclass(frozen=True, slots=True)
class _InForce:
    """A sign, the bar it stands in, and the note it stands at."""

    alter: int
    bar: int
    note: int


def printed_accidentals(written: Sequence[WrittenNote], fifths: int) -> list[int | None]:
    """The sign printed at each note: where its alteration is not in force already, or as a courtesy."""
    key, force, bar = key_alters(fifths), dict[StaffPlace, int](), 0
    signs: list[int | None] = []
    for note in written:
        if note.bar != bar:
            force, bar = {}, note.bar
        place = (note.letter, note.octave)
        due = force.get(place, key[LETTERS.index(note.letter)])
        shown = note.alter != due or note.reason in ("courtesy", "sign")
        signs.append(note.alter if shown else None)
        if shown:
            force[place] = note.alter
    return signs


def alters_read(written: Sequence[WrittenNote], fifths: int, *, broken: Cause) -> list[int]:
    """The alteration of every note, where this rule is broken throughout."""
    key = key_alters(_key_seen(fifths, broken))
    force: dict[StaffPlace, _InForce] = {}
    alters = []
    for number, (note, printed) in enumerate(zip(written, printed_accidentals(written, fifths), strict=True)):
        sign = None if broken is Cause.NATURAL_MISSED and printed == 0 else printed
        place = (note.letter, note.octave)
        if sign is not None:
            force[place] = _InForce(sign, note.bar, number)
        alter = key[LETTERS.index(note.letter)] if sign is None else sign
        kept = force.get(place)
        if sign is None and kept and broken is not Cause.SIGN_NOT_CARRIED:
            over = broken is Cause.SIGN_CARRIED_OVER_BARLINE and note.bar - kept.bar == 1
            if kept.bar == note.bar or over:
                alter = kept.alter
        alters.append(alter)
    return alters


def _key_seen(fifths: int, broken: Cause) -> int:
    match broken:
        case Cause.KEY_FORGOTTEN:
            return 0
        case Cause.LAST_SHARP_FORGOTTEN | Cause.LAST_FLAT_FORGOTTEN:
            return fifths - (1 if fifths > 0 else -1)
    return fifths


@dataclass(frozen=True, slots=True)
class ReadAs:
    """One note under one broken rule. `source` is the note whose sign is misread, or still in the fingers."""

    cause: Cause
    alter: int
    source: int | None = None


def ways_to_misread(
    written: Sequence[WrittenNote], fifths: int, *, at: int, held_to: Sequence[int]
) -> list[ReadAs]:
    """Every way to misread the note `at`, the likeliest first. `held_to`: the bar in which each note ends."""
    note, key = written[at], key_alters(fifths)[LETTERS.index(written[at].letter)]
    sign = printed_accidentals(written, fifths)[at]
    here = [n for n in range(at) if written[n].bar == note.bar and _place(written[n]) == _place(note)]
    if sign is not None:
        cause = Cause.NATURAL_MISSED if sign == 0 else Cause.SIGN_OVERLOOKED
        return [ReadAs(cause, written[here[-1]].alter, here[-1]) if here else ReadAs(cause, key)]
    signs = printed_accidentals(written[:at], fifths)
    standing = [n for n in here if signs[n] is not None]
    found = []
    if standing:
        # this sign alone did not last: what held before it comes back
        before = [n for n in here if n < standing[-1]]
        alter = written[before[-1]].alter if before else key
        found.append(ReadAs(Cause.SIGN_NOT_CARRIED, alter, standing[-1]))
    elsewhere = [
        n
        for n in range(at)
        if signs[n] is not None
        and (written[n].bar, written[n].letter) == (note.bar, note.letter)
        and written[n].octave != note.octave
    ]
    found += [ReadAs(Cause.SIGN_OF_OTHER_OCTAVE, written[n].alter, n) for n in elsewhere]
    before_bar = [n for n in range(at) if written[n].bar < note.bar and written[n].letter == note.letter]
    earlier = [n for n in before_bar if held_to[n] >= note.bar - 1]
    if earlier:
        tied = any(held_to[n] == note.bar for n in earlier)
        cause = Cause.SIGN_AFTER_TIE if tied else Cause.SIGN_CARRIED_OVER_BARLINE
        found.append(ReadAs(cause, written[earlier[-1]].alter, earlier[-1]))
    if key and not standing:
        found.append(ReadAs(Cause.KEY_FORGOTTEN, 0))
    return found


def _place(note: WrittenNote) -> StaffPlace:
    return note.letter, note.octave
