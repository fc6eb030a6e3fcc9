"""Why did several notes go wrong at once?

Definition: under each misreading of the part the heard notes have a likelihood, with the student keeping to
it always, mostly or half the time; under chance they have that of independent slips. A cause is named only
when it explains at least two wrong notes and beats chance by a margin. Where a second cause explains them
about as well, both are said.

Assumptions: small slips are commoner than large ones; how often this student slips is not known, so a
careful, a usual and a careless one are averaged; causes have the prior weights below. Those weights are
judgement, not counted.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np

from submissions.listening.evidence import Cause, Misreading
from submissions.listening.misreading import MisreadLine, readings
from submissions.listening.score import LETTERS, Score
from submissions.listening.spelling import FLAT_ORDER, SHARP_ORDER
from submissions.listening.units import Floats

SLIPS = np.array([0.02, 0.06, 0.15])
ADHERENCE = np.array([0.98, 0.80, 0.55])
NO_CAUSE_PRIOR = 0.75
NAMED_ABOVE = 1.0
AHEAD_BY = 1.0
FEWEST_EXPLAINED = 2
FEWEST_EXPLAINED_BY_FINGERING = 3
NEVER = 1e-9
OCTAVE = 12

PRIOR = {
    Cause.KEY_FORGOTTEN: 0.06,
    Cause.LAST_SHARP_FORGOTTEN: 0.05,
    Cause.LAST_FLAT_FORGOTTEN: 0.05,
    Cause.SIGN_NOT_CARRIED: 0.05,
    Cause.SIGN_CARRIED_OVER_BARLINE: 0.04,
    Cause.NATURAL_MISSED: 0.03,
    Cause.NEIGHBOUR_FINGERING: 0.01,
}


def _slip_chances() -> Floats:
    """By semitones away: that a slip lands there."""
    chances = np.full(128, 0.004)
    chances[0] = 0.0
    for semitones, chance in {1: 0.25, 2: 0.15, 3: 0.05, 4: 0.02, 5: 0.02, 7: 0.02, 12: 0.03}.items():
        chances[semitones] = chance
    return chances


SLIP_CHANCE = _slip_chances()


@dataclass(frozen=True, slots=True)
class _Told:
    """What speaks for one cause, and its likeliest reading."""

    cause: Cause
    log_odds: float
    reading: MisreadLine
    explained: tuple[int, ...]


def explain(score: Score, heard: Sequence[int | None]) -> Misreading | None:
    """The cause of the wrong notes among `heard` (sounding; None where nothing was), if one stands out."""
    known = [(index, pitch) for index, pitch in enumerate(heard) if pitch is not None]
    wrong = [index for index, pitch in known if pitch != score.notes[index].midi]
    if len(wrong) < FEWEST_EXPLAINED:
        return None
    told = sorted(_told(score, dict(known), wrong), key=lambda one: -one.log_odds)
    if not told or told[0].log_odds < NAMED_ABOVE:
        return None
    best, *rest = told
    second = rest[0] if rest and rest[0].log_odds > best.log_odds - AHEAD_BY else None
    return Misreading(
        cause=best.cause,
        sentence=_sentence(best, second),
        notes=best.explained,
        log_odds=best.log_odds,
        other_possible=second.cause if second else None,
    )


def _told(score: Score, heard: dict[int, int], wrong: Sequence[int]) -> list[_Told]:
    """Each cause that explains enough of the wrong notes, all its readings taken together."""
    use = list(heard)
    pitches = np.array([heard[index] for index in use])
    right = np.array([score.notes[index].midi for index in use])
    read = readings(score, heard=heard)
    if not read:
        return []
    sounding = np.array([reading.sounding for reading in read])[:, use]
    chances = np.array([reading.log_chance + _log_prior(reading, score) for reading in read])
    weights = _log_likelihoods(sounding, pitches, right) + chances
    chance = log(NO_CAUSE_PRIOR) + float(_log_likelihoods(right[None], pitches, right)[0])
    found = []
    for cause in Cause:
        own = [place for place, reading in enumerate(read) if reading.cause is cause]
        if not own:
            continue
        best = read[max(own, key=lambda place: weights[place])]
        # The pitch an octave off is the same reading, overblown or heard so.
        explained = tuple(i for i in wrong if (heard[i] - best.sounding[i]) % OCTAVE == 0)
        fewest = FEWEST_EXPLAINED
        if cause is Cause.NEIGHBOUR_FINGERING:
            fewest = FEWEST_EXPLAINED_BY_FINGERING
        if len(explained) >= fewest:
            odds = float(np.logaddexp.reduce(weights[own])) - chance
            found.append(_Told(cause, odds, best, explained))
    return found


def _log_likelihoods(sounding: np.ndarray, pitches: np.ndarray, right: np.ndarray) -> Floats:
    """Of the heard pitches under each reading (a row), averaged over slips and over how strictly it is kept.

    Where the reading plays a note as written, only a slip makes it wrong.
    """
    from_right = SLIP_CHANCE[np.abs(pitches - right)]
    from_read = SLIP_CHANCE[np.abs(pitches - sounding)]
    same, kept, fell_back = sounding == right, pitches == sounding, pitches == right
    totals = []
    for slip in SLIPS:
        for share in ADHERENCE:
            plain = np.where(kept, 1 - slip, slip * from_right)
            misread = (1 - slip) * (share * kept + (1 - share) * fell_back) + slip * from_read
            totals.append(np.log(np.where(same, plain, misread) + NEVER).sum(axis=1))
    return np.asarray(np.logaddexp.reduce(totals, axis=0) - log(len(totals)), dtype=np.float64)


def _log_prior(reading: MisreadLine, score: Score) -> float:
    prior = PRIOR[reading.cause]
    if reading.cause is Cause.NEIGHBOUR_FINGERING:
        prior /= 2 * len(set(score.midis))
    return log(prior)


def _sentence(best: _Told, second: _Told | None) -> str:
    """What the notes sound like, from where; and what else they may be."""
    first = best.reading.printed.notes[best.explained[0]].written
    where = f"bar {first.bar}, beat {first.beat:g}" if first else "the first of them"
    count = len(best.explained)
    if best.cause is Cause.NEIGHBOUR_FINGERING:
        said = (
            f"{best.reading.detail} sounds a half step off {count} times, from {where}, "
            "as with its neighbour's fingering"
        )
    else:
        said = f"{count} notes sound as if {_as_if(best.reading)}, from {where}"
    if second is None:
        return f"{said}."
    if second.cause is Cause.NEIGHBOUR_FINGERING:
        return f"{said}; or {second.reading.detail} was fingered as its neighbour."
    return f"{said}; or as if {_as_if(second.reading)}."


def _as_if(reading: MisreadLine) -> str:
    fifths = reading.printed.fifths or 0
    newest = LETTERS[(SHARP_ORDER if fifths > 0 else FLAT_ORDER)[max(0, abs(fifths) - 1)]]
    match reading.cause:
        case Cause.KEY_FORGOTTEN:
            return "the key signature were not there"
        case Cause.LAST_SHARP_FORGOTTEN:
            return f"the key's last sharp, {newest}-sharp, were not there"
        case Cause.LAST_FLAT_FORGOTTEN:
            return f"the key's last flat, {newest}-flat, were not there"
        case Cause.SIGN_NOT_CARRIED:
            return "a sign held for one note only, not to the barline"
        case Cause.SIGN_CARRIED_OVER_BARLINE:
            return "a sign still held after the barline"
        case _:
            return "the natural sign were not there"
