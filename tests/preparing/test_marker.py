"""The recorder's marker is found to a tenth of a millisecond, and never in what is only music."""

import numpy as np
import pytest

from submissions.preparing.findings import Limits
from submissions.preparing.marker import find_marker
from submissions.preparing.prepare import prepare
from tests.submissions.takes import sounds

NEAR = 0.0002


@pytest.mark.parametrize("rate", [16_000, 22_050, 44_100, 48_000])
@pytest.mark.parametrize("at", [0.0, 0.31234, 1.70007])
def test_found_at_any_rate_and_place(rate, at):
    sound = sounds.with_marker(sounds.noise(seconds=3, level=0.003, rate=rate), at=at, rate=rate)

    # Put in at a whole sample; that is where it is.
    assert find_marker(sound, rate=rate) == pytest.approx(round(at * rate) / rate, abs=NEAR)


def test_found_late_in_the_first_minute_across_pieces_of_the_search():
    for at in (3.98, 7.99, 58.5):
        sound = sounds.with_marker(sounds.noise(seconds=60, level=0.003), at=at)
        assert find_marker(sound, rate=sounds.RATE) == pytest.approx(at, abs=NEAR)


@pytest.mark.parametrize("level", [0.02, 0.05, 0.1, 0.2])
def test_found_in_noise(level):
    sound = sounds.with_marker(sounds.noise(seconds=3, level=level), at=0.4)

    assert find_marker(sound, rate=sounds.RATE) == pytest.approx(0.4, abs=NEAR)


def test_found_while_somebody_plays():
    sound = sounds.with_marker(sounds.line(seconds=4, level=0.6), at=0.3)

    assert find_marker(sound, rate=sounds.RATE) == pytest.approx(0.3, abs=NEAR)


@pytest.mark.parametrize(
    "write",
    [
        lambda p, s: sounds.webm(p, s),
        lambda p, s: sounds.write(p, s, codec="libopus", format="webm", bit_rate=32_000),
        lambda p, s: sounds.write(p, s, codec="libopus", format="mp4", starts_at=0.08),
        lambda p, s: sounds.m4a(p, s),
        lambda p, s: sounds.wav(p, s, rate=44_100),
    ],
    ids=["opus 96k", "opus 32k", "opus in mp4", "aac", "wav"],
)
def test_found_after_encoding_on_the_served_files_own_time_line(tmp_path, write):
    quiet_room = sounds.noise(seconds=4, level=0.002)
    source = write(tmp_path / "source", sounds.with_marker(quiet_room + sounds.line(seconds=4), at=0.6))

    take = prepare(source=source, served=tmp_path / "served", limits=Limits())

    served, rate = sounds.decoded(tmp_path / "served")
    tone = sounds.recorder_marker(rate)
    place = int(np.argmax(np.correlate(served[: 2 * rate], tone, "valid"))) / rate
    assert take.marker_seconds == pytest.approx(place, abs=0.0005)
    assert take.marker_seconds == pytest.approx(0.6, abs=0.001)


def sweep(low: float, high: float, seconds: float) -> np.ndarray:
    t = np.arange(round(seconds * sounds.RATE)) / sounds.RATE
    return (0.3 * np.sin(2 * np.pi * (low * t + 0.5 * (high - low) / seconds * t * t))).astype(np.float32)


@pytest.mark.parametrize(
    "sound",
    [
        sounds.silence(seconds=3),
        sounds.noise(seconds=10, level=0.2),
        sounds.line(seconds=8),
        np.clip(sounds.line(seconds=4, level=3), -1, 1),
        sweep(200, 8000, 1.5),
        sweep(6000, 1500, 0.04),
        sweep(1500, 6000, 0.4),
        np.eye(1, 48_000, 24_000, dtype=np.float32)[0],
    ],
    ids=["silence", "noise", "line", "clipped", "siren", "falling", "slow whistle", "click"],
)
def test_not_found_where_there_is_none(sound):
    assert find_marker(sound, rate=sounds.RATE) is None


def test_not_found_in_telephone_sound_that_cannot_hold_it():
    assert find_marker(np.zeros(8000, np.float32), rate=8_000) is None
