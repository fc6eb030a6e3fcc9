"""The served copy holds what came: where packets cannot be copied as they are, the sound is encoded again."""

import shutil
import wave
from pathlib import Path

import av
import numpy as np
import pytest

from submissions.preparing.findings import Finding, Limits
from submissions.preparing.prepare import Prepared, prepare
from tests.submissions.takes import sounds

#: Twelve seconds that the recorder of WebKitGTK 2.50 wrote of a synthesised flute: Opus in fragmented mp4
#: whose decode times run backwards near the end.
WEBKIT_TAKE = Path(__file__).parent / "data" / "webkit_take.mp4"
LINE = sounds.line(seconds=3)


def prepared(source: Path) -> Prepared:
    return prepare(source=source, served=source.parent / "served", limits=Limits())


def level(sound: np.ndarray) -> float:
    return float(20 * np.log10(np.sqrt(np.mean(np.square(sound)))))


def test_a_take_of_webkits_recorder_is_whole(tmp_path):
    source = Path(shutil.copy(WEBKIT_TAKE, tmp_path / "source"))
    came, rate = sounds.decoded(source)

    take = prepared(source)

    served, served_rate = sounds.decoded(tmp_path / "served")
    assert (take.media_type, served_rate) == ("audio/flac", rate)
    assert take.seconds == pytest.approx(came.size / rate, abs=0.05)
    assert served.size / rate == pytest.approx(came.size / rate, abs=0.05)
    assert level(served) == pytest.approx(level(came), abs=1)
    assert take.findings == []


@pytest.mark.parametrize("channels", [9, 64, 100])
def test_more_channels_than_a_listener_has_ears_are_mixed_to_one(tmp_path, channels):
    source = tmp_path / "source"
    with wave.open(str(source), "wb") as out:
        out.setnchannels(channels)
        out.setsampwidth(2)
        out.setframerate(48_000)
        one = (LINE * 32_767).astype(np.int16)
        out.writeframes(np.repeat(one[:, np.newaxis], channels, axis=1).tobytes())

    take = prepared(source)

    served, _ = sounds.decoded(tmp_path / "served")
    assert take.seconds == pytest.approx(3, abs=0.01)
    assert take.findings == []
    assert level(served) == pytest.approx(level(LINE), abs=0.1)


def test_a_clock_that_jumps_by_hours_makes_no_hours_of_silence(tmp_path):
    source = sounds.webm(tmp_path / "source", LINE, hole=(1.5, 10 * 3600))

    take = prepared(source)

    # what stands behind the jump follows after a minute, the longest hole that is kept
    assert take.media_type == "audio/flac"
    assert take.seconds == pytest.approx(63, abs=0.1)


def test_a_short_pause_of_the_clock_is_kept_as_it_is(tmp_path):
    source = sounds.webm(tmp_path / "source", LINE, hole=(1.5, 2))

    assert prepared(source).seconds == pytest.approx(5, abs=0.1)


def test_a_header_that_promises_hours_refuses_nothing(tmp_path):
    source = sounds.wav(tmp_path / "source", LINE)
    blob = bytearray(source.read_bytes())
    data = blob.index(b"data")
    blob[data + 4 : data + 8] = (48_000 * 2 * 3600 * 2).to_bytes(4, "little")
    blob[4:8] = (48_000 * 2 * 3600 * 2 + 36).to_bytes(4, "little")
    source.write_bytes(blob)

    take = prepared(source)

    assert take.seconds == pytest.approx(3, abs=0.05)
    assert take.findings == [Finding.CUT_SHORT]


def test_two_recordings_in_one_file_are_both_heard(tmp_path):
    """As some phones write when a call came between: one webm after the other."""
    first = sounds.webm(tmp_path / "first", LINE).read_bytes()
    source = tmp_path / "source"
    source.write_bytes(first + sounds.webm(tmp_path / "second", LINE).read_bytes())
    with av.open(str(source)) as container:
        heard = sum(frame.samples for frame in container.decode(audio=0)) / 48_000

    take = prepared(source)

    assert take.seconds == pytest.approx(heard, abs=0.1)
