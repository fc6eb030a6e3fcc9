"""The first bytes of files that FFmpeg wrote, and of files that are no recordings."""

import pytest

from submissions.preparing.signatures import HEAD_BYTES, kind_of
from tests.submissions.takes import sounds

LINE = sounds.line(seconds=0.5)
WRITTEN = {
    "audio/webm": ("libopus", "webm", 48_000),
    "audio/mp4": ("aac", "mp4", 44_100),
    "audio/ogg": ("libopus", "ogg", 48_000),
    "audio/flac": ("flac", "flac", 44_100),
    "audio/mpeg": ("libmp3lame", "mp3", 44_100),
    "audio/aac": ("aac", "adts", 44_100),
    "audio/wav": ("pcm_s16le", "wav", 44_100),
    "audio/aiff": ("pcm_s16be", "aiff", 44_100),
    "audio/x-caf": ("pcm_s16be", "caf", 44_100),
    "audio/x-ms-wma": ("wmav2", "asf", 44_100),
    "audio/basic": ("pcm_mulaw", "au", 8_000),
}


@pytest.mark.parametrize(("kind", "how"), WRITTEN.items(), ids=list(WRITTEN))
def test_every_kind_of_recording_is_known_by_its_first_bytes(tmp_path, kind, how):
    codec, container, rate = how
    path = sounds.write(tmp_path / "take", LINE, codec=codec, format=container, rate=rate, bit_rate=64_000)

    assert kind_of(path.read_bytes()[:HEAD_BYTES]) == kind


@pytest.mark.parametrize("container", ["mov", "3gp"])
def test_what_phones_call_otherwise_is_of_the_mp4_family(tmp_path, container):
    path = sounds.write(tmp_path / "take", LINE, codec="aac", format=container, rate=44_100)

    assert kind_of(path.read_bytes()[:HEAD_BYTES]) == "audio/mp4"


OTHERS = (
    b"",
    b"\x00",
    b"Dear director, h",
    b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n",
    b"PK\x03\x04\x14\x00\x06\x00",
    b"\x89PNG\r\n\x1a\n",
    b"<!doctype html>",
    b"\xff\xd8\xff\xe0\x00\x10JFIF",
    b"RIFF\x24\x00\x00\x00WEBP",
)


@pytest.mark.parametrize("head", OTHERS)
def test_what_is_no_recording_is_not_taken_for_one(head):
    assert kind_of(head) is None
