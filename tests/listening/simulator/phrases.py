"""A player's phrase, and a score of it that was edited afterwards.

The phrase is played rightly, with a musician's freedom: the beat leans and broadens, notes are slurred or
tongued, loud or soft; a lively one has quick notes, short notes and vibrato too. The score handed to the
listener is then changed at some notes (so another pitch sounds), a note of it is taken out (so one too many
sounds) or put in (so one is not heard). What becomes of a changed note's time differs from take to take.
"""

from dataclasses import dataclass
from random import Random

from tests.listening.simulator.lines import Instrument
from tests.listening.simulator.player import NoteTruth, Tone, Truth

CHANGED, TAKEN_OUT, PUT_IN = 0.07, 0.035, 0.035
SLURRED = 0.35
INTERVALS = (-4, -3, -2, -2, -1, -1, 0, 1, 1, 2, 2, 3, 4, 5, -5, 7)
RHYTHMS = (
    (1, 1, 1, 1), (2, 1, 1), (1, 1, 2), (2, 2), (1.5, 0.5, 1, 1), (1, 0.5, 0.5, 2), (3, 1),
    (0.5, 0.5, 1, 1, 1),
)  # fmt: skip
QUICK_RHYTHMS = (
    (0.5,) * 8, (0.5, 0.5, 1, 0.5, 0.5, 1), (0.75, 0.25, 1, 2), (1, 0.25, 0.25, 0.5, 2),
)  # fmt: skip
TIMES = ("kept by the note before", "rest", "moved")
"""Of a note taken out: the note before is written longer, or a rest stays, or all after it moves up. Of one
put in: it takes half of the note before, or moves all after it."""


@dataclass(slots=True)
class _Note:
    midi: int
    start: float
    beats: float


def make_phrase(
    rng: Random, *, instrument: Instrument, lively: bool = False
) -> tuple[list[Tone], dict, Truth, float]:
    """(tones, edited score, truth against it, seconds)."""
    notes = _melody(rng, instrument, RHYTHMS + QUICK_RHYTHMS if lively else RHYTHMS)
    tones, seconds, bpm = _performed(rng, notes, short=0.25 if lively else 0.0)
    score, truth = _edited(rng, notes, tones, rng.choice(TIMES) if lively else TIMES[0])
    truth.tempo_bpm = None
    printed = float(round(bpm)) if rng.random() < 0.5 else None
    return (
        tones,
        {
            "instrument": instrument.name,
            "transposition": instrument.chromatic,
            "tempo_bpm": printed,
            "beats_per_bar": 4,
            "notes": score,
        },
        truth,
        seconds,
    )


def _melody(rng: Random, instrument: Instrument, rhythms: tuple[tuple[float, ...], ...]) -> list[_Note]:
    low, high = instrument.low, instrument.high
    midi, start, notes = rng.randint(low + 2, high - 2), 0.0, []
    for bar in range(rng.choice((3, 4, 4, 5, 6))):
        start = 4.0 * bar
        for beats in rng.choice(rhythms):
            notes.append(_Note(midi, start, beats))
            start += beats
            step = rng.choice(INTERVALS)
            midi = midi + step if low <= midi + step <= high else midi - step
            midi = min(high, max(low, midi))
    return notes


def _performed(rng: Random, notes: list[_Note], *, short: float) -> tuple[list[Tone], float, float]:
    bpm = rng.uniform(66, 126)
    lean, wave = rng.uniform(0.0, 0.07), rng.uniform(4.0, 12.0)
    tuning = rng.uniform(-25, 25) / 100
    clock, beat, onsets = rng.uniform(0.3, 1.0), 0.0, []
    total = notes[-1].start
    for note in notes:
        pace = 60.0 / bpm * (1 + lean * ((note.start % wave) / wave - 0.5))
        if note.start > total - 3:
            pace *= rng.uniform(1.0, 1.15)
        clock += (note.start - beat) * pace + (rng.gauss(0, 0.012) if onsets else 0.0)
        beat = note.start
        onsets.append(max(clock, onsets[-1] + 0.12) if onsets else clock)
    onsets.append(onsets[-1] + notes[-1].beats * 60.0 / bpm)
    tones = []
    for place, note in enumerate(notes):
        room = onsets[place + 1] - onsets[place]
        kind = rng.random()
        slurred = tones and kind < SLURRED and round(tones[-1].midi) != note.midi
        soft = not slurred and kind < 0.75
        tone = Tone(
            onset=onsets[place],
            end=onsets[place] + room * rng.uniform(0.75, 0.95),
            midi=note.midi + tuning + rng.gauss(0, 0.05),
            velocity=rng.randrange(60, 115),
            soft=bool(soft and tones),
            note=place,
        )
        if tones and (slurred or soft):
            tones[-1].end = tone.onset
        elif tones and short and rng.random() < short:
            half = max(0.12, 0.5 * (tone.onset - tones[-1].onset))
            tones[-1].end = min(tones[-1].end, tones[-1].onset + half)
        tones.append(tone)
    return tones, tones[-1].end + rng.uniform(0.4, 1.0), bpm


def _edited(rng: Random, notes: list[_Note], tones: list[Tone], times: str) -> tuple[list[dict], Truth]:
    score: list[dict] = []
    moved = 0.0
    truth = Truth(notes=[])
    for place, (note, tone) in enumerate(zip(notes, tones, strict=True)):
        inner = 0 < place < len(notes) - 1
        chance = rng.random()
        entry = {"midi": note.midi, "start_beat": note.start + moved, "beats": note.beats}
        told = NoteTruth("as_written", note.midi, tone.onset, 0.0, None)
        if chance < CHANGED:
            entry["midi"] += rng.choice((-2, -1, -1, 1, 1, 2, -3, 4))
            told.verdict = "other_pitch"
        elif inner and chance < CHANGED + TAKEN_OUT:
            if times == TIMES[0]:
                score[-1]["beats"] += note.beats
            elif times == TIMES[2]:
                moved -= note.beats
            truth.extra.append((note.midi, tone.onset, tone.end - tone.onset))
            continue
        score.append(entry)
        truth.notes.append(told)
        if inner and chance > 1 - PUT_IN and note.beats >= 1:
            midi = note.midi + rng.choice((-2, -1, 1, 2, 3, -3))
            own = note.beats if times == TIMES[2] else note.beats / 2
            start = entry["start_beat"] + own
            score.append({"midi": midi, "start_beat": start, "beats": own})
            if times == TIMES[2]:
                moved += own
            else:
                entry["beats"] = own
            truth.notes.append(NoteTruth("not_heard"))
    return score, truth
