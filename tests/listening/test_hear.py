"""Whole takes of plain tones: what is said of each note, and the laws any listener must keep."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from submissions.listening import ENGINE_VERSION
from submissions.listening.errors import HearingError
from submissions.listening.evidence import Quality, Verdict
from submissions.listening.hear import hear_take
from submissions.listening.score import Score
from tests.listening.simulator.coding import encode
from tests.listening.simulator.room import speech
from tests.listening.tones import RATE, line, played, score_of

MIDIS = [62, 64, 65, 67, 69, 67, 65, 64, 62, 65, 64, 62]
SCORE = Score.from_json(score_of(MIDIS))
W, P, N = Verdict.AS_WRITTEN, Verdict.OTHER_PITCH, Verdict.NOT_HEARD


def heard(notes, *, score=SCORE, seconds=None, sound=None):
    if sound is None:
        sound = line(notes, seconds or notes[-1][1] + notes[-1][2] + 0.6)
    return hear_take(audio=encode(sound, "flac", rate=RATE), score=score)


def leanings(evidence):
    return [note.leaning for note in evidence.notes]


def test_a_line_as_written():
    evidence = heard(played(MIDIS))
    assert leanings(evidence) == [W] * 12
    assert [n.onset_seconds for n in evidence.notes] == pytest.approx(
        [0.5 + 0.75 * i for i in range(12)], abs=0.015
    )
    assert max(abs(n.cents) for n in evidence.notes) < 2
    assert [n.held_seconds for n in evidence.notes] == pytest.approx([0.675] * 12, abs=0.04)
    assert evidence.tempo_bpm == pytest.approx(80, rel=0.01)
    assert (evidence.restarted, evidence.stopped_early, evidence.other_line) == (False, False, False)
    assert (evidence.transposed_semitones, evidence.extra, evidence.misreading) == (0, (), None)
    assert evidence.engine_version == ENGINE_VERSION


@pytest.mark.parametrize("step", [-2, -1, 1, 2, 4])
def test_another_pitch_is_named(step):
    midis = list(MIDIS)
    midis[4] += step
    evidence = heard(played(midis))
    assert leanings(evidence) == [W] * 4 + [P] + [W] * 7
    assert evidence.notes[4].heard_midi == MIDIS[4] + step


def test_a_note_left_out_is_not_heard_and_unknown_is_none():
    notes = played(MIDIS)
    del notes[5]
    evidence = heard(notes)
    assert leanings(evidence) == [W] * 5 + [N] + [W] * 6
    missing = evidence.notes[5]
    assert (missing.heard_midi, missing.onset_seconds, missing.cents, missing.beats_off) == (None,) * 4


def test_a_note_too_many_is_extra():
    notes = played(MIDIS)
    notes[5] = (67, notes[5][1], 0.33)
    notes.insert(6, (72, notes[5][1] + 0.36, 0.34))
    evidence = heard(notes)
    assert leanings(evidence) == [W] * 12
    assert [(e.midi, pytest.approx(e.onset_seconds, abs=0.03)) for e in evidence.extra] == [(72, notes[6][1])]


@pytest.mark.parametrize("tuning", [-0.45, -0.38, 0.2, 0.38, 0.45])
def test_an_instrument_out_of_tune_plays_the_right_notes(tuning):
    evidence = heard([(m + tuning, at, held) for m, at, held in played(MIDIS)])
    assert leanings(evidence) == [W] * 12
    assert evidence.tuning_cents == pytest.approx(100 * tuning, abs=2)
    assert [n.cents for n in evidence.notes] == pytest.approx([100 * tuning] * 12, abs=3)
    assert max(abs(n.cents_in_tune) for n in evidence.notes) < 3


def test_one_late_note_is_late_alone():
    notes = played(MIDIS)
    notes[6] = (notes[6][0], notes[6][1] + 0.27, notes[6][2] - 0.27)
    off = [note.beats_off for note in heard(notes).notes]
    assert off[6] == pytest.approx(0.36, abs=0.05)
    assert max(abs(o) for i, o in enumerate(off) if o is not None and i != 6) < 0.1


def test_a_restart_is_judged_by_the_last_attempt_and_the_first_stays_visible():
    notes = played(MIDIS[:5])
    again = [(m, at + 5.2, held) for m, at, held in played(MIDIS)]
    evidence = heard(notes + again)
    assert evidence.restarted
    assert leanings(evidence) == [W] * 12
    assert evidence.notes[0].onset_seconds == pytest.approx(5.7, abs=0.02)
    assert [(a.first_note, a.last_note) for a in evidence.attempts] == [(0, 4)]


def test_stopping_early_is_said():
    evidence = heard(played(MIDIS[:8]))
    assert evidence.stopped_early
    assert leanings(evidence) == [W] * 8 + [N] * 4


@pytest.mark.parametrize("seconds", [3, 9, 25])
def test_a_student_may_stop_and_think_and_go_on(seconds):
    notes = played(MIDIS)
    paused = notes[:6] + [(m, at + seconds, held) for m, at, held in notes[6:]]
    evidence = heard(paused)
    assert leanings(evidence) == [W] * 12
    assert (evidence.restarted, evidence.stopped_early, evidence.extra) == (False, False, ())


@pytest.mark.parametrize("seconds", [2, 8])
def test_a_long_last_note_is_one_note(seconds):
    notes = played(MIDIS)
    notes[-1] = (notes[-1][0], notes[-1][1], seconds)
    evidence = heard(notes, seconds=notes[-1][1] + seconds + 3)
    assert leanings(evidence) == [W] * 12
    assert (evidence.restarted, evidence.extra) == (False, ())
    assert evidence.notes[-1].held_seconds == pytest.approx(seconds, abs=0.05)


def test_an_extra_note_of_an_attempt_that_was_given_up_went_with_it():
    first = played(MIDIS[:8])
    first[1:2] = [(64, 1.25, 0.33), (72, 1.61, 0.34)]
    again = [(m, at + 7.5, held) for m, at, held in played(MIDIS)]
    evidence = heard(first + again)
    assert evidence.restarted
    assert evidence.extra == ()


def test_a_note_before_held_on_through_another_written_pitch_is_not_that_note():
    notes = played(MIDIS)
    notes[4] = (notes[4][0], notes[4][1], 1.45)
    del notes[5]
    evidence = heard(notes)
    assert leanings(evidence) == [W] * 5 + [N] + [W] * 6
    assert evidence.notes[5].onset_seconds is None


@pytest.mark.parametrize("shift", [-9, -2, 3, 7])
def test_another_instruments_part_is_named_and_its_right_notes_kept(shift):
    evidence = heard(played([m + shift for m in MIDIS]))
    assert evidence.transposed_semitones == shift
    assert leanings(evidence) == [W] * 12
    assert evidence.transposed_sentence.startswith(f"Every note sounds {abs(shift)} semitones")


def test_a_forgotten_key_is_not_another_instruments_part():
    score = Score.from_json(score_of([70, 72, 74, 75, 77, 75, 74, 72, 70, 75, 72, 70]))
    evidence = heard(played([71, 72, 74, 76, 77, 76, 74, 72, 71, 76, 72, 71]), score=score)
    assert evidence.transposed_semitones == 0
    assert evidence.misreading.cause.value == "key_forgotten"


@pytest.mark.parametrize(
    "sound",
    [
        np.zeros(5 * RATE, np.float32),
        np.random.default_rng(3).normal(scale=0.05, size=6 * RATE).astype(np.float32),
        speech(np.random.default_rng(4), 8.0)[::3].astype(np.float32),
    ],
    ids=["silence", "noise", "speech"],
)
def test_nobody_plays(sound):
    evidence = heard(None, sound=sound)
    assert leanings(evidence) == [N] * 12
    assert Quality.NOBODY_PLAYS in evidence.quality
    assert {note.onset_seconds for note in evidence.notes} == {None}


def test_clipping_and_quiet_are_said():
    sound = line(played(MIDIS), 10)
    assert Quality.CLIPPED in heard(None, sound=np.clip(4 * sound, -1, 1)).quality
    assert Quality.QUIET in heard(None, sound=0.005 * sound).quality
    assert heard(None, sound=sound).quality == ()


def test_short_detached_notes_are_heard():
    evidence = heard(played(MIDIS, share=0.1))
    assert leanings(evidence) == [W] * 12
    assert Quality.NOBODY_PLAYS not in evidence.quality


@pytest.mark.parametrize("mains", [50, 60])
def test_hum_under_a_tuba_is_not_a_note(mains):
    midis = [34, 36, 38, 39, 41, 39, 38, 36]
    sound = line(played(midis), 7.5)
    time = np.arange(len(sound)) / RATE
    hum = sum(0.02 / n * np.sin(2 * np.pi * mains * n * time) for n in (1, 2, 3))
    score = Score.from_json(score_of(midis, instrument="tuba"))
    evidence = heard(None, sound=(sound + hum).astype(np.float32), score=score)
    assert leanings(evidence) == [W] * 8
    assert evidence.extra == ()


def test_an_octave_is_told_by_its_odd_partials():
    """A flute's C7 as its C6 is an octave; a tone with a weak fundamental is none."""
    midis = list(MIDIS)
    midis[4] += 12
    evidence = heard(played(midis))
    assert (evidence.notes[4].leaning, evidence.notes[4].heard_midi) == (P, 81)
    sound = line(played(MIDIS), 10)
    spectrum = np.fft.rfft(sound)
    hz = np.arange(len(spectrum)) * RATE / len(sound)
    weak = np.fft.irfft(spectrum * np.where(hz < 480, 0.05, 1.0), len(sound)).astype(np.float32)
    assert leanings(heard(None, sound=weak)) == [W] * 12


@pytest.mark.parametrize("step", [1, 5])
def test_a_slip_heard_an_octave_high_is_a_slip(step):
    """A semitone or a fourth too high, with odd partials so weak that the octave above seems to sound."""
    notes = played(MIDIS)
    midi, onset, held = notes.pop(4)
    sound, time = line(notes, 10), np.arange(int(held * RATE)) / RATE
    hz = 440 * 2 ** ((midi + step - 69) / 12)
    wave = sum((0.05 if n % 2 else 1) / n * np.sin(2 * np.pi * hz * n * time) for n in range(1, 9))
    edges = np.clip(np.minimum(time / 0.02, (held - time) / 0.03), 0, 1)
    at = round(onset * RATE)
    sound[at : at + len(time)] += (0.15 * edges * wave).astype(np.float32)
    note = heard(None, sound=sound).notes[4]
    assert (note.verdict, note.heard_midi) == (P, 69 + step)


def test_a_repeat_without_a_gap_is_unsure_not_missing():
    score = Score.from_json(score_of([62, 64, 64, 65, 67, 65, 64, 62]))
    notes = played([62, 64, 65, 67, 65, 64, 62])
    notes = [(62, 0.5, 0.7), (64, 1.25, 1.45), *[(m, at + 0.75, held) for m, at, held in notes[2:]]]
    evidence = heard(notes, score=score)
    assert [i for i, n in enumerate(evidence.notes) if n.verdict is Verdict.UNSURE] in ([1], [2])
    unsure = next(n for n in evidence.notes if n.verdict is Verdict.UNSURE)
    assert unsure.why_unsure == "could not be separated from the note before it"
    assert leanings(evidence) == [W] * 8


@pytest.mark.parametrize(("pace", "notes"), [(0.75, 12), (0.2, 0)])
def test_a_line_after_talk_is_heard_unless_it_goes_as_fast_as_syllables(pace, notes):
    """What fits the part for a moment in a long talk is talk; a line played after it is a line."""
    talk = 0.3 * speech(np.random.default_rng(3), 15.0)[::3]
    tune = line(played(MIDIS, pace=pace, share=0.85), 12 * pace + 1)
    assert sum(note.onset_seconds is not None for note in heard(None, sound=tune).notes) == 12
    evidence = heard(None, sound=np.concatenate([talk, tune]).astype(np.float32))
    assert sum(note.onset_seconds is not None for note in evidence.notes) == notes


def test_changes_with_an_alternate_fingering_are_measured_against_the_others():
    score = dataclasses.replace(SCORE, alternates=(3,))
    notes = played(MIDIS, share=0.96)
    notes[2] = (notes[2][0], notes[2][1], notes[2][2] - 0.12)
    (change,) = heard(notes, score=score).changes
    assert change.note == 3
    assert change.gap_ms == pytest.approx(150, abs=30)
    assert change.usual_gap_ms == pytest.approx(30, abs=20)


def test_the_written_name_of_a_wrong_note_is_the_students_own():
    data = score_of(MIDIS, instrument="clarinet") | {"transposition": -2}
    midis = list(MIDIS)
    midis[4] -= 1
    evidence = heard(played(midis), score=Score.from_json(data))
    assert evidence.notes[4].heard_midi == 68
    assert evidence.notes[4].heard_written in ("A#4", "Bb4")


OTHER = [69, 67, 62, 69, 65, 62, 67, 64, 69, 62, 67, 65]


def test_the_other_line_is_noticed_by_itself_and_by_comparing():
    assert heard(played(OTHER)).other_line
    known = Score.from_json({**score_of(MIDIS), "other_lines": [score_of(OTHER)]})
    assert heard(played(OTHER), score=known).other_line
    assert not heard(played(MIDIS), score=known).other_line


@pytest.mark.parametrize("instrument", ["flute", "bells"])
def test_a_line_of_one_note(instrument):
    score = Score.from_json(score_of([79], instrument=instrument))
    sound = line([(79, 1.0, 1.2)], 3)
    decay = np.exp(-2.0 * np.maximum(0, np.arange(len(sound)) / RATE - 1.0))
    evidence = heard(None, sound=(sound * decay).astype(np.float32), score=score)
    assert leanings(evidence) == [W]
    assert evidence.notes[0].onset_seconds == pytest.approx(1.0, abs=0.02)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 40))
def test_shifting_the_sound_shifts_its_onsets_and_nothing_else(frames):
    later = frames * 0.01
    first = heard(played(MIDIS))
    second = heard([(m, at + later, held) for m, at, held in played(MIDIS)])
    assert leanings(first) == leanings(second)
    moved = [b.onset_seconds - a.onset_seconds for a, b in zip(first.notes, second.notes, strict=True)]
    assert moved == pytest.approx([later] * 12, abs=0.012)


@settings(max_examples=8, deadline=None)
@given(st.floats(-30, 9))
def test_a_gain_changes_no_verdict(decibels):
    midis = list(MIDIS)
    midis[3] += 1
    sound = line(played(midis), 10) * 10 ** (decibels / 20)
    assert leanings(heard(None, sound=sound.astype(np.float32))) == [W] * 3 + [P] + [W] * 8


def test_the_same_bytes_give_the_same_evidence():
    sound = encode(line(played(MIDIS), 10), "webm", rate=RATE)
    assert hear_take(audio=sound, score=SCORE) == hear_take(audio=sound, score=SCORE)


def test_what_cannot_be_read_raises():
    with pytest.raises(HearingError):
        hear_take(audio=b"not sound", score=SCORE)
