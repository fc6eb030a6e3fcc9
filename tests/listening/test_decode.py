"""Sound comes out of every container at the moment it went in.

The moments are of our own making: an impulse at 1 s and at 2 s, coded by ffmpeg's libraries.
"""

import io
import struct

import av
import numpy as np
import pytest

from submissions.listening.decode import decode
from submissions.listening.errors import HearingError
from tests.listening.simulator.coding import FORMATS, encode

RATE = 44_100
IMPULSES = (1.0, 2.0)


WAV_WITHOUT_SAMPLES = (
    b"RIFF" + struct.pack("<I", 36) + b"WAVEfmt " + struct.pack("<IHHIIHH", 16, 1, 1, RATE, 2 * RATE, 2, 16)
    + b"data" + struct.pack("<I", 0)
)  # fmt: skip


def impulses() -> np.ndarray:
    sound = np.zeros(3 * RATE, dtype=np.float32)
    for at in IMPULSES:
        sound[int(at * RATE) : int(at * RATE) + 20] = 0.8
    return sound


def found(samples: np.ndarray, rate: int) -> list[float]:
    half = int(1.5 * rate)
    return [np.abs(samples[:half]).argmax() / rate, (half + np.abs(samples[half:]).argmax()) / rate]


@pytest.mark.parametrize("kind", FORMATS)
def test_an_impulse_stands_where_it_was_recorded(kind):
    sound = decode(encode(impulses(), kind), rate=16_000)
    assert found(sound.samples, sound.rate) == pytest.approx(IMPULSES, abs=0.002)
    assert not sound.cut_off


def test_a_fragmented_mp4_agrees_with_a_whole_one():
    """Fragments carry no edit list, so nothing in the file says how long AAC's run-in was."""
    fragments = encode(impulses(), "m4a", options={"movflags": "frag_keyframe+empty_moov"})
    sound = decode(fragments, rate=16_000)
    assert found(sound.samples, sound.rate) == pytest.approx(IMPULSES, abs=0.002)


def test_webm_without_a_duration_is_read_to_its_end():
    """A browser's recorder writes WebM as it goes: no duration, no seek table."""
    live = encode(impulses(), "webm", options={"live": "1"})
    with av.open(io.BytesIO(live)) as container:
        assert container.duration is None
    sound = decode(live, rate=16_000)
    assert found(sound.samples, sound.rate) == pytest.approx(IMPULSES, abs=0.002)


def coded_stereo(left: np.ndarray, right: np.ndarray) -> bytes:
    out = io.BytesIO()
    with av.open(out, "w", format="wav") as container:
        stream = container.add_stream("pcm_s16le", rate=RATE, layout="stereo")
        both = (np.stack([left, right], axis=1).reshape(1, -1) * 32767).astype(np.int16)
        frame = av.AudioFrame.from_ndarray(both, format="s16", layout="stereo")
        frame.sample_rate = RATE
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return out.getvalue()


def test_opposed_stereo_channels_do_not_cancel():
    wave = 0.5 * np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE)
    sound = decode(coded_stereo(wave, -wave), rate=RATE)
    assert np.abs(sound.samples).max() == pytest.approx(0.5, abs=0.01)


def test_stereo_is_mixed_to_the_mean():
    wave = 0.5 * np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE)
    sound = decode(coded_stereo(wave, 0.5 * wave), rate=RATE)
    assert np.abs(sound.samples).max() == pytest.approx(0.375, abs=0.01)


def test_a_hole_in_the_stream_becomes_silence_of_its_length():
    """Half a second of packets is lost: what follows keeps its place."""
    out = io.BytesIO()
    block = np.full((1, 4800), 9000, dtype=np.int16)
    with av.open(out, "w", format="matroska") as container:
        stream = container.add_stream("pcm_s16le", rate=48_000, layout="mono")
        for number in range(20):
            if 5 <= number < 10:
                continue
            frame = av.AudioFrame.from_ndarray(block, format="s16", layout="mono")
            frame.sample_rate, frame.pts = 48_000, number * 4800
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    sound = decode(out.getvalue(), rate=48_000)
    assert sound.seconds == pytest.approx(2.0, abs=0.01)
    assert np.abs(sound.samples[int(0.55 * 48_000) : int(0.95 * 48_000)]).max() == 0.0
    assert np.abs(sound.samples[int(1.05 * 48_000) : int(1.95 * 48_000)]).min() > 0.2


def test_a_file_cut_in_the_middle_yields_its_beginning():
    whole = encode(impulses(), "webm")
    sound = decode(whole[: int(0.6 * len(whole))], rate=16_000)
    assert np.abs(sound.samples[: int(1.2 * 16_000)]).argmax() / 16_000 == pytest.approx(1.0, abs=0.002)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "no bytes"),
        (b"Dear diary, today I practised.\n" * 40, "not a sound recording"),
        (struct.pack(">I", 32) + b"ftypisom" + b"\0" * 20, "not a sound recording"),
        (WAV_WITHOUT_SAMPLES, "no sound"),
    ],
    ids=["empty", "text", "a bare mp4 header", "no samples"],
)
def test_what_cannot_be_heard_is_refused_in_words(data, says):
    with pytest.raises(HearingError, match=says):
        decode(data, rate=16_000)


def test_a_missing_file_is_refused_in_words(tmp_path):
    with pytest.raises(HearingError, match="cannot be opened"):
        decode(tmp_path / "absent.webm", rate=16_000)


def test_samples_that_are_no_numbers_are_silence():
    sound = impulses()
    sound[5000:6000], sound[100] = np.nan, np.inf
    out = io.BytesIO()
    with av.open(out, "w", format="wav") as container:
        stream = container.add_stream("pcm_f32le", rate=RATE, layout="mono")
        frame = av.AudioFrame.from_ndarray(sound[np.newaxis], format="flt", layout="mono")
        frame.sample_rate = RATE
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    heard = decode(out.getvalue(), rate=RATE)
    assert np.isfinite(heard.samples).all()
    assert np.abs(heard.samples[: RATE // 2]).max() == 0.0
    assert found(heard.samples, RATE) == pytest.approx(IMPULSES, abs=0.002)
