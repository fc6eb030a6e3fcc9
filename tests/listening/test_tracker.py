"""The pitch tracker against two independent libraries, and against pitches known exactly.

References: librosa's pYIN (Mauch and Dixon 2014) and Praat's autocorrelation method through parselmouth
(Boersma 1993). Both are used in tests alone.
"""

import librosa
import numpy as np
import parselmouth
import pytest

from submissions.listening.tracker import best_path, candidates
from submissions.listening.units import HOP_SECONDS, RATE, hz_from_midi, midi_from_hz
from tests.listening.simulator.player import Tone
from tests.listening.simulator.sounding import render
from tests.listening.tones import tone


def tracked(samples, low, high):
    track = best_path(
        candidates(samples, rate=RATE, floor_hz=hz_from_midi(low), ceiling_hz=hz_from_midi(high))
    )
    return np.where(track.hz > 0, midi_from_hz(np.maximum(track.hz, 1.0)), np.nan)


@pytest.mark.parametrize("midi", [29.0, 34.4, 46.0, 57.25, 69.0, 70.5, 81.9, 88.0])
def test_a_steady_tone_is_within_two_cents(midi):
    pitch = tracked(tone(midi, 1.0), midi - 9, midi + 20)
    middle = pitch[20:80]
    assert np.isfinite(middle).all()
    assert np.abs(middle - midi).max() < 0.02


def test_noise_alone_has_no_pitch():
    noise = np.random.default_rng(1).normal(scale=0.1, size=2 * RATE).astype(np.float32)
    assert np.isnan(tracked(noise, 50, 90)).mean() > 0.97


def test_silence_has_no_pitch():
    assert np.isnan(tracked(np.zeros(RATE, np.float32), 50, 90)).all()


def test_a_gain_changes_nothing():
    sound = tone(62.3, 0.6)
    np.testing.assert_allclose(tracked(sound, 50, 90), tracked(0.01 * sound, 50, 90), atol=1e-3)


def test_an_impossible_range_is_refused():
    with pytest.raises(ValueError, match="no pitch range"):
        candidates(np.zeros(100, np.float32), rate=RATE, floor_hz=500.0, ceiling_hz=100.0)


@pytest.fixture(scope="module")
def clarinet_phrase():
    midis = [55, 57, 59, 60, 62, 64, 65, 67]
    tones = [Tone(0.3 + 0.5 * i, 0.75 + 0.5 * i, m) for i, m in enumerate(midis)]
    sound, _ = render(np.random.default_rng(2), tones, program=71, seconds=4.8)
    return librosa.resample(sound, orig_sr=44_100, target_sr=RATE).astype(np.float32)


@pytest.mark.sound
def test_agrees_with_praat(clarinet_phrase):
    ours = tracked(clarinet_phrase, 48, 84)
    sound = parselmouth.Sound(clarinet_phrase.astype(np.float64), RATE)
    reference = sound.to_pitch_ac(
        time_step=HOP_SECONDS,
        pitch_floor=hz_from_midi(48),
        pitch_ceiling=hz_from_midi(84),
        silence_threshold=0.02,
        voicing_threshold=0.40,
        octave_cost=0.03,
    )
    hz = reference.selected_array["frequency"]
    at = np.round(reference.xs() / HOP_SECONDS).astype(int)
    both = (hz > 0) & np.isfinite(ours[at])
    apart = np.abs(ours[at][both] - midi_from_hz(hz[both]))
    assert both.sum() > 0.9 * (hz > 0).sum()
    assert (apart < 0.10).mean() > 0.96  # the two grids stand up to 5 ms apart where pitch changes
    assert np.median(apart) < 0.01


@pytest.mark.sound
def test_agrees_with_pyin(clarinet_phrase):
    ours = tracked(clarinet_phrase, 48, 84)
    hz, voiced, _ = librosa.pyin(
        clarinet_phrase,
        fmin=hz_from_midi(48),
        fmax=hz_from_midi(84),
        sr=RATE,
        frame_length=1024,
        hop_length=160,
    )
    count = min(len(hz), len(ours))
    both = voiced[:count] & np.isfinite(ours[:count])
    apart = np.abs(ours[:count][both] - midi_from_hz(hz[:count][both]))
    assert both.sum() > 0.9 * voiced.sum()
    assert (apart < 0.25).mean() > 0.97  # pYIN's grid is a tenth of a semitone
