"""A beginner plays a line: what sounds when, with faults, and the truth about every written note."""

from dataclasses import dataclass, field
from random import Random

from tests.listening.simulator.lines import STRUCK, Line, read

FAULTS = ("clean", "typical", "hard")


@dataclass(slots=True)
class Tone:
    onset: float
    end: float
    midi: float
    """Fractional: with tuning and the note's own cents."""
    velocity: int = 90
    soft: bool = False
    """Tongued softly: the sound of the note before goes on through it."""
    scoop: float = 0.0
    """Semitones the note starts below itself."""
    crack: int = 0
    """Semitones above at which it starts for 60 to 120 ms."""
    note: int | None = None


@dataclass(slots=True)
class NoteTruth:
    verdict: str
    heard_midi: int | None = None
    onset: float | None = None
    cents: float | None = None
    beats_off: float | None = None


@dataclass(slots=True)
class Truth:
    notes: list[NoteTruth]
    extra: list[tuple[int, float, float]] = field(default_factory=list)
    tempo_bpm: float | None = None
    tuning_cents: float = 0.0
    restarted: bool = False
    transposed: int = 0
    other_line: bool = False
    cause: str | None = None
    stopped_early: bool = False
    nobody: bool = False


@dataclass(slots=True)
class Rates:
    wrong: float = 0.05
    skip: float = 0.02
    extra: float = 0.02
    off: float = 0.04
    pause: float = 0.02
    restart: float = 0.15
    scoop: float = 0.05
    crack: float = 0.01
    soft: float = 0.35
    slur: float = 0.10
    jitter: float = 0.02
    drift: float = 0.05
    tuning: float = 25.0


CLEAN = Rates(
    wrong=0.03, skip=0.01, extra=0.01, off=0.02, pause=0.0, restart=0.05, scoop=0.0, crack=0.0,
    soft=0.15, slur=0.0, jitter=0.012, drift=0.02, tuning=15.0,
)  # fmt: skip
HARD = Rates(
    wrong=0.08, skip=0.04, extra=0.04, off=0.08, pause=0.04, restart=0.25, scoop=0.12, crack=0.03,
    soft=0.45, slur=0.15, jitter=0.035, drift=0.10, tuning=40.0,
)  # fmt: skip
ROUGH = Rates(soft=0.65, slur=0.2, scoop=0.15, crack=0.02, jitter=0.03, drift=0.08, tuning=40.0)
"""A softly tonguing beginner; the room and the phone of this level are the worst."""
RATES = {"clean": CLEAN, "typical": Rates(), "hard": HARD, "rough": ROUGH}


def play(
    rng: Random,
    line: Line,
    *,
    rates: Rates,
    transposed: int = 0,
    cause: str | None = None,
    other: Line | None = None,
) -> tuple[list[Tone], Truth, float]:
    """(tones, truth against `line`, seconds). With `cause` the line is misread so, and in no other way."""
    bpm = rng.uniform(50, 120)
    played = other or line
    right = [midi + transposed for midi in played.sounding]
    read_as = {
        "key_forgotten": lambda: read(played, fifths=0),
        "last_forgotten": lambda: read(played, fifths=played.fifths - (1 if played.fifths > 0 else -1)),
        "sign_not_carried": lambda: read(played, carried=False),
        "sign_carried_over_barline": lambda: read(played, over=True),
    }
    if cause in read_as:
        right = read_as[cause]()
    slips = cause is None
    tuning = rng.uniform(-rates.tuning, rates.tuning)
    drift = rng.uniform(-rates.drift, rates.drift)
    struck = played.instrument.name in STRUCK
    if struck:
        tuning = 0.0
    tones: list[Tone] = []
    truth = Truth(notes=[NoteTruth("not_heard") for _ in line.notes],
                  tempo_bpm=bpm / (1 + drift / 2), tuning_cents=tuning,
                  transposed=transposed, cause=cause, other_line=other is not None)  # fmt: skip
    clock = rng.uniform(0.4, 1.5)
    count = len(played.notes)
    if rng.random() < rates.restart and count >= 6:
        stop = rng.randrange(2, min(count - 1, 8))
        clock = _attempt(
            rng, played, right, 0, stop, clock, bpm, drift, rates, tuning, struck, tones, None, slips
        )
        clock += rng.uniform(0.8, 2.0)
        truth.restarted = True
    stop = count
    if slips and rng.random() < 0.03 and count > 8:
        stop = rng.randrange(count // 2, count - 2)
        truth.stopped_early = True
    clock = _attempt(rng, played, right, 0, stop, clock, bpm, drift, rates, tuning, struck, tones,
                     truth if other is None else None, slips)  # fmt: skip
    return tones, truth, clock + rng.uniform(0.4, 1.2)


def _attempt(
    rng, line, right, first, stop, clock, bpm, drift, rates, tuning, struck, tones, truth, slips
) -> float:
    start_beat = line.notes[first].start
    total = max(1.0, line.notes[-1].start - start_beat)
    beat_now, time_now = start_beat, clock
    previous: Tone | None = None
    for index in range(first, stop):
        note = line.notes[index]
        spb = 60.0 / bpm * (1 + drift * (note.start - start_beat) / total)
        time_now += (note.start - beat_now) * spb
        beat_now = note.start
        if rng.random() < rates.skip and first < index < stop - 1:
            continue
        if rng.random() < rates.pause and index > first:
            time_now += rng.uniform(0.3, 1.0) * spb
        off = 0.0
        if rng.random() < rates.off and first < index < stop - 1:
            off = rng.choice((-1, 1)) * rng.uniform(0.28, 0.45)
        onset = time_now + off * spb + max(-2.5, min(2.5, rng.gauss(0, 1))) * rates.jitter * spb
        if previous is not None:
            onset = max(onset, previous.onset + 0.15)
        midi = right[index]
        if slips and rng.random() < rates.wrong:
            midi += rng.choice(
                (-1, 1, -1, 1, -2, 2, 3, -4, 5, 12 if not struck and rng.random() < 0.3 else -1)
            )
        cents = 0.0 if struck else rng.gauss(0, 8)
        tone = Tone(
            onset=onset,
            end=onset + note.beats * spb * rng.uniform(0.82, 0.98),
            midi=midi + (tuning + cents) / 100,
            velocity=rng.randrange(70, 110),
            note=index,
        )
        if not struck:
            if previous is not None and onset - previous.end < 0.4 * spb:
                kind = rng.random()
                if kind < rates.soft:
                    tone.soft = True
                    previous.end = onset
                elif kind < rates.soft + rates.slur and round(previous.midi) != round(tone.midi):
                    previous.end = onset
                elif kind > 0.9:
                    previous.end = min(
                        previous.end, previous.onset + max(0.09, 0.4 * (onset - previous.onset))
                    )
            if rng.random() < rates.scoop:
                tone.scoop = rng.uniform(0.3, 1.2)
            elif rng.random() < rates.crack:
                tone.crack = rng.choice((7, 12))
        if previous is not None:
            previous.end = min(previous.end, onset - (0.0 if tone.soft else 0.004))
        if slips and rng.random() < rates.extra and index < stop - 1 and note.beats * spb > 0.5:
            length = rng.uniform(0.16, 0.30)
            at = onset + note.beats * spb - length
            tone.end = at - 0.02
            extra = round(midi) + rng.choice((-2, -1, 1, 2, 3))
            tones.append(tone)
            tone = Tone(at, at + length - 0.02, extra + tuning / 100, rng.randrange(70, 100))
            if truth is not None:
                truth.extra.append((extra, at, length))
                _tell(truth, tones[-1], midi, index, right, line, off, cents, tuning)
        elif truth is not None:
            _tell(truth, tone, midi, index, right, line, off, cents, tuning)
        tones.append(tone)
        previous = tone
    return previous.end if previous else clock


def _tell(truth, tone, midi, index, right, line, off, cents, tuning) -> None:
    written = line.sounding[index] + truth.transposed
    truth.notes[index] = NoteTruth(
        verdict="as_written" if midi == written else "other_pitch",
        heard_midi=midi,
        onset=tone.onset,
        cents=cents + tuning,
        beats_off=off,
    )
