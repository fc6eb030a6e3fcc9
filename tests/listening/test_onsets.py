"""Onsets of sounds made to the sample, by hand."""

import numpy as np
import pytest

from submissions.listening.envelopes import envelopes
from submissions.listening.onsets import PitchChange, onset_seconds
from submissions.listening.units import RATE
from tests.listening.tones import tone


def level_of(sound: np.ndarray) -> np.ndarray:
    return envelopes(sound.astype(np.float32)).level_db


def quiet(seconds: float) -> np.ndarray:
    return np.random.default_rng(1).normal(scale=2e-4, size=int(seconds * RATE))


@pytest.mark.parametrize("attack", [0.005, 0.02, 0.06])
def test_after_silence_a_note_begins_where_it_is_audible(attack):
    """A straight rise comes within 20 dB of its height after a tenth of its length."""
    sound = quiet(2.0)
    sound[RATE : RATE + RATE // 2] += tone(67, 0.5, attack=attack)
    assert onset_seconds(level_of(sound), start=102, end=150) == pytest.approx(1 + 0.1 * attack, abs=0.010)


@pytest.mark.parametrize(("before", "after"), [(67, 69), (69, 67), (64, 71), (60, 72)])
def test_a_slur_begins_with_the_new_pitch(before, after):
    sound = quiet(2.0)
    sound[: RATE + 160] += tone(before, 1.01)
    sound[RATE - 160 :] += tone(after, 1.01)
    change = PitchChange(sound.astype(np.float32), before=before, after=after)
    assert onset_seconds(level_of(sound), start=102, end=200, change=change) == pytest.approx(1.0, abs=0.025)


def test_a_repeat_begins_at_the_bottom_of_its_dip():
    sound = quiet(2.0) + tone(67, 2.0)
    sound[RATE - 400 : RATE] *= np.linspace(1, 0.3, 400)
    sound[RATE : RATE + 400] *= np.linspace(0.3, 1, 400)
    assert onset_seconds(level_of(sound), start=101, end=200) == pytest.approx(1.0, abs=0.010)
