"""Why did several notes go wrong at once?

Definition: the part is read again under each misreading a beginner makes (the key forgotten, its last
sharp or flat forgotten, a sign taken for one note only, a sign kept past the barline, a natural missed,
one note always fingered as its neighbour). Each reading's likelihood of the heard notes, with the student
keeping to it always, mostly or half the time, is weighed against independent slips. A cause is named only
when it explains at least two wrong notes and beats chance, and every other cause, by a margin.

Assumptions: slips are rare, small ones commoner than large; causes have the prior weights below. Those
weights are judgement, not counted.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import exp, log

from submissions.listening.evidence import Cause, Misreading
from submissions.listening.score import LETTERS, Score, WrittenNote
from submissions.listening.spelling import FLAT_ORDER, NATURALS, SHARP_ORDER, key_alters, printings

SLIP = 0.03
ADHERENCE = (0.98, 0.80, 0.55)
NO_CAUSE_PRIOR = 0.75
NAMED_ABOVE = 2.0
AHEAD_BY = 1.0
FEWEST_EXPLAINED = 2
MOST_KEY_READINGS = 4
FEWEST_EXPLAINED_BY_FINGERING = 3
_SLIP_BY_SEMITONES = {1: 0.25, 2: 0.15, 3: 0.05, 4: 0.02, 5: 0.02, 7: 0.02, 12: 0.03}
_SLIP_OTHER = 0.004

PRIOR = {
    Cause.KEY_FORGOTTEN: 0.06,
    Cause.LAST_SHARP_FORGOTTEN: 0.05,
    Cause.LAST_FLAT_FORGOTTEN: 0.05,
    Cause.SIGN_NOT_CARRIED: 0.05,
    Cause.SIGN_CARRIED_OVER_BARLINE: 0.04,
    Cause.NATURAL_MISSED: 0.03,
    Cause.NEIGHBOUR_FINGERING: 0.01,
}


@dataclass(frozen=True, slots=True)
class Reading:
    """The part as a student under one misreading would sound it."""

    cause: Cause
    sounding: tuple[int, ...]
    printed: Score
    """The part as it is, or may be, printed."""
    detail: str = ""
    """For a neighbour fingering, the note that is always wrong."""


def key_readings(score: Score) -> list[Reading]:
    """The readings that misread the key signature alone."""
    keys = (Cause.KEY_FORGOTTEN, Cause.LAST_SHARP_FORGOTTEN, Cause.LAST_FLAT_FORGOTTEN)
    return [reading for reading in readings(score) if reading.cause in keys][:MOST_KEY_READINGS]


def readings(score: Score) -> list[Reading]:
    """Every misreading that changes at least one note, of every way the part may be printed."""
    found: dict[tuple[Cause, tuple[int, ...]], Reading] = {}
    for printed in printings(score):
        for reading in _readings(printed):
            if list(reading.sounding) != score.midis:
                found.setdefault((reading.cause, reading.sounding), reading)
    return list(found.values())


def _readings(spelled: Score) -> list[Reading]:
    fifths = spelled.fifths or 0
    written = [note.written for note in spelled.notes if note.written is not None]
    sounding_from_written = [note.midi - at.midi for note, at in zip(spelled.notes, written, strict=True)]
    signs = _printed(written, fifths)

    def sounding(pitches: Sequence[int]) -> tuple[int, ...]:
        return tuple(p + shift for p, shift in zip(pitches, sounding_from_written, strict=True))

    found: list[Reading] = []
    if fifths:
        found.append(Reading(Cause.KEY_FORGOTTEN, sounding(_read(written, signs, 0)), spelled))
        last = Cause.LAST_SHARP_FORGOTTEN if fifths > 0 else Cause.LAST_FLAT_FORGOTTEN
        if abs(fifths) > 1:
            fewer = fifths - (1 if fifths > 0 else -1)
            found.append(Reading(last, sounding(_read(written, signs, fewer)), spelled))
    found += [
        Reading(Cause.SIGN_NOT_CARRIED, sounding(_read(written, signs, fifths, carried=False)), spelled),
        Reading(
            Cause.SIGN_CARRIED_OVER_BARLINE,
            sounding(_read(written, signs, fifths, over_barline=True)),
            spelled,
        ),
        Reading(
            Cause.NATURAL_MISSED,
            sounding(_read(written, [None if sign == 0 else sign for sign in signs], fifths)),
            spelled,
        ),
    ]
    found += _fingerings(spelled)
    return found


def explain(score: Score, heard: Sequence[int | None]) -> Misreading | None:
    """The cause of the wrong notes among `heard` (sounding; None where nothing was), if one stands out."""
    use = [index for index, pitch in enumerate(heard) if pitch is not None]
    wrong = {index for index in use if heard[index] != score.notes[index].midi}
    if len(wrong) < FEWEST_EXPLAINED:
        return None
    chance = log(NO_CAUSE_PRIOR) + sum(_slip(_heard(heard, i) - score.notes[i].midi) for i in use)
    told = []
    for reading in readings(score):
        explained = tuple(i for i in sorted(wrong) if heard[i] == reading.sounding[i])
        fewest = FEWEST_EXPLAINED
        if reading.cause is Cause.NEIGHBOUR_FINGERING:
            fewest = FEWEST_EXPLAINED_BY_FINGERING
        odds = _log_likelihood(reading, score, heard, use) + log(_prior(reading, score)) - chance
        told.append((odds, len(explained) >= fewest, reading, explained))
    told.sort(key=lambda item: -item[0])
    if not told or told[0][0] < NAMED_ABOVE or not told[0][1]:
        return None
    odds, _, reading, explained = told[0]
    rivals = [item for item in told[1:] if item[1] and odds - item[0] < AHEAD_BY and item[3] != explained]
    same = [item for item in told[1:] if item[3] == explained and odds - item[0] < AHEAD_BY]
    if rivals and rivals[0][2].cause is not reading.cause:
        other: Cause | None = rivals[0][2].cause
    else:
        other = next((item[2].cause for item in same if item[2].cause is not reading.cause), None)
    return Misreading(
        cause=reading.cause,
        sentence=_sentence(reading, explained),
        notes=explained,
        log_odds=odds,
        other_possible=other,
    )


def _heard(heard: Sequence[int | None], index: int) -> int:
    pitch = heard[index]
    if pitch is None:
        raise ValueError("a note that was not heard has no pitch")
    return pitch


def _printed(written: Sequence[WrittenNote], fifths: int) -> list[int | None]:
    """The sign printed at each note: where its alteration is not in force already, or as a courtesy."""
    key, force, bar = key_alters(fifths), dict[tuple[str, int], int](), 0
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


def _read(
    written: Sequence[WrittenNote],
    signs: Sequence[int | None],
    fifths: int,
    *,
    carried: bool = True,
    over_barline: bool = False,
) -> list[int]:
    """Written pitches as read by one rule: signs that hold one note only, or to the end of the next bar."""
    key, force = key_alters(fifths), dict[tuple[str, int], tuple[int, int]]()
    pitches = []
    for note, sign in zip(written, signs, strict=True):
        place, letter = (note.letter, note.octave), LETTERS.index(note.letter)
        if sign is not None:
            force[place] = (sign, note.bar)
        alter = key[letter] if sign is None else sign
        if sign is None and carried and place in force:
            kept, since = force[place]
            if since == note.bar or (over_barline and note.bar - since == 1):
                alter = kept
        pitches.append(12 * (note.octave + 1) + NATURALS[letter] + alter)
    return pitches


def _fingerings(score: Score) -> Iterator[Reading]:
    """One note of the part, every time a half step too high or too low."""
    for midi in sorted(set(score.midis)):
        if score.midis.count(midi) < FEWEST_EXPLAINED_BY_FINGERING:
            continue
        note = next(note for note in score.notes if note.midi == midi)
        for step in (-1, 1):
            yield Reading(
                Cause.NEIGHBOUR_FINGERING,
                tuple(m + step if m == midi else m for m in score.midis),
                score,
                detail=_name(note.written),
            )


def _prior(reading: Reading, score: Score) -> float:
    prior = PRIOR[reading.cause]
    if reading.cause is Cause.NEIGHBOUR_FINGERING:
        return prior / (2 * len(set(score.midis)))
    return prior


def _slip_chance(semitones: int) -> float:
    return _SLIP_BY_SEMITONES.get(abs(semitones), _SLIP_OTHER)


def _slip(semitones: int) -> float:
    return log(1 - SLIP) if semitones == 0 else log(SLIP * _slip_chance(semitones))


def _log_likelihood(reading: Reading, score: Score, heard: Sequence[int | None], use: Sequence[int]) -> float:
    """Of the heard notes under this reading, averaged over how strictly the student keeps to it."""
    totals = []
    for kept in ADHERENCE:
        total = 0.0
        for index in use:
            pitch, right, read = _heard(heard, index), score.notes[index].midi, reading.sounding[index]
            if read == right:
                total += _slip(pitch - right)
            else:
                meant = kept * (pitch == read) + (1 - kept) * (pitch == right)
                slip = 0.0 if pitch == read else _slip_chance(pitch - read)
                total += log((1 - SLIP) * meant + SLIP * slip + 1e-9)
        totals.append(total)
    top = max(totals)
    return top + log(sum(exp(total - top) for total in totals) / len(totals))


def _name(note: WrittenNote | None) -> str:
    if note is None:
        return "this note"
    sign = {-2: "-double-flat", -1: "-flat", 0: "", 1: "-sharp", 2: "-double-sharp"}[note.alter]
    return f"{note.letter}{sign}"


def _sentence(reading: Reading, explained: Sequence[int]) -> str:
    score = reading.printed
    first = score.notes[explained[0]].written
    where = f"bar {first.bar}, beat {first.beat:g}" if first else "the first of them"
    count = f"{len(explained)} notes"
    fifths = score.fifths or 0
    newest = LETTERS[(SHARP_ORDER if fifths > 0 else FLAT_ORDER)[max(0, abs(fifths) - 1)]]
    match reading.cause:
        case Cause.KEY_FORGOTTEN:
            return f"{count} sound as if the key signature were not there, from {where}."
        case Cause.LAST_SHARP_FORGOTTEN:
            return f"{count} sound as if the key's last sharp, {newest}-sharp, were not there, from {where}."
        case Cause.LAST_FLAT_FORGOTTEN:
            return f"{count} sound as if the key's last flat, {newest}-flat, were not there, from {where}."
        case Cause.SIGN_NOT_CARRIED:
            return f"{count} sound as if a sign held for one note only, not to the barline, from {where}."
        case Cause.SIGN_CARRIED_OVER_BARLINE:
            return f"{count} sound as if a sign still held after the barline, from {where}."
        case Cause.NATURAL_MISSED:
            return f"{count} sound as if the natural sign were not there, from {where}."
        case _:
            return (
                f"{reading.detail} sounds a half step off {len(explained)} times, from {where}, "
                "as with its neighbour's fingering."
            )
