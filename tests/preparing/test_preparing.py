"""Files of every kind become takes that play, or one sentence.

Files are written and read back by FFmpeg (through PyAV), which this project did not write.
"""

import json
import subprocess
import sys
from pathlib import Path

import av
import numpy as np
import pytest
from av.stream import Disposition
from django.conf import settings

from submissions.preparing.findings import Finding, Limits, Refusal, Unusable
from submissions.preparing.prepare import Prepared, prepare
from tests.submissions.takes import sounds

LINE = sounds.line(seconds=3)
CUT_OFF = (
    "This file was cut off before its end, so it cannot be played; "
    "send it again from where it was made, or record it again."
)
NOT_A_RECORDING = (
    "This file is not a recording that can be read; send an m4a, mp3, wav, webm, ogg, flac or mp4 file."
)


def prepared(source: Path, *, limits: Limits | None = None) -> Prepared:
    return prepare(source=source, served=source.parent / "served", limits=limits or Limits())


def refused(source: Path, *, limits: Limits | None = None) -> Unusable:
    with pytest.raises(Unusable) as caught:
        prepared(source, limits=limits)
    return caught.value


def opus(path: Path, **more: object) -> Path:
    return sounds.write(path, LINE, codec="libopus", format="ogg", **more)


MADE = {
    "webm of a browser, without length": (lambda p: sounds.webm(p, LINE), "audio/webm"),
    "webm in stereo": (lambda p: sounds.webm(p, LINE, channels=2), "audio/webm"),
    "m4a": (lambda p: sounds.m4a(p, LINE), "audio/mp4"),
    "fragmented mp4": (
        lambda p: sounds.m4a(p, LINE, options={"movflags": "frag_keyframe+empty_moov+default_base_moof"}),
        "audio/mp4",
    ),
    "mp4 with opus": (
        lambda p: sounds.write(p, LINE, codec="libopus", format="mp4", starts_at=0.08),
        "audio/webm",
    ),
    "mov": (lambda p: sounds.write(p, LINE, codec="aac", format="mov", rate=44_100), "audio/mp4"),
    "3gp": (lambda p: sounds.write(p, LINE, codec="aac", format="3gp", rate=44_100), "audio/mp4"),
    "aac without container": (
        lambda p: sounds.write(p, LINE, codec="aac", format="adts", rate=44_100),
        "audio/mp4",
    ),
    "mp3": (lambda p: sounds.mp3(p, LINE), "audio/mpeg"),
    "wav": (lambda p: sounds.wav(p, LINE), "audio/flac"),
    "wav at 22 kHz": (lambda p: sounds.wav(p, LINE, rate=22_050), "audio/flac"),
    "wav of a telephone": (
        lambda p: sounds.write(p, LINE, codec="pcm_mulaw", format="wav", rate=8_000),
        "audio/flac",
    ),
    "ogg with opus": (opus, "audio/webm"),
    "flac": (lambda p: sounds.write(p, LINE, codec="flac", format="flac"), "audio/flac"),
    "apple lossless": (lambda p: sounds.write(p, LINE, codec="alac", format="mp4"), "audio/flac"),
    "caf": (lambda p: sounds.write(p, LINE, codec="pcm_s16be", format="caf"), "audio/flac"),
    "aiff": (lambda p: sounds.write(p, LINE, codec="pcm_s16be", format="aiff"), "audio/flac"),
    "wma": (
        lambda p: sounds.write(p, LINE, codec="wmav2", format="asf", rate=44_100, bit_rate=64_000),
        "audio/flac",
    ),
    "avi": (
        lambda p: sounds.write(p, LINE, codec="libmp3lame", format="avi", rate=44_100, bit_rate=64_000),
        "audio/mpeg",
    ),
    "mpeg transport stream": (
        lambda p: sounds.write(p, LINE, codec="ac3", format="mpegts", bit_rate=128_000),
        "audio/flac",
    ),
}


@pytest.mark.parametrize(("make", "media_type"), MADE.values(), ids=MADE.keys())
def test_every_kind_of_recording_is_served_playable_with_its_length(tmp_path, make, media_type):
    take = prepared(make(tmp_path / "source"))

    assert take.media_type == media_type
    assert take.seconds == pytest.approx(3, abs=0.06)
    assert take.findings == []
    assert len(take.peaks) <= 600
    assert min(take.peaks) < 30 < max(take.peaks) == 100
    with av.open(str(tmp_path / "served")) as served:
        # FFmpeg finds a length in the file itself: a player can show it and seek.
        assert served.duration / av.time_base == pytest.approx(take.seconds, abs=0.06)
        assert [stream.type for stream in served.streams] == ["audio"]


@pytest.mark.parametrize("make", [make for make, _ in MADE.values()], ids=MADE.keys())
def test_the_served_copy_sounds_like_the_original(tmp_path, make):
    source = make(tmp_path / "source")
    prepared(source)

    before, rate = sounds.decoded(source)
    after, served_rate = sounds.decoded(tmp_path / "served")
    assert served_rate == rate
    # Encoders' padding may be cut or kept, so up to 60 ms to either side.
    size = 1 << (before.size + after.size).bit_length()
    product = np.fft.irfft(np.fft.rfft(after, size) * np.conj(np.fft.rfft(before, size)), size)
    reach = round(0.06 * rate)
    near = np.concatenate((product[: reach + 1], product[-reach:]))
    best = near.max() / np.sqrt(np.sum(before**2) * np.sum(after**2))
    assert best > 0.98


def test_a_webm_without_length_can_be_seeked_afterwards(tmp_path):
    source = sounds.webm(tmp_path / "source", LINE)
    with av.open(str(source)) as recorded:
        assert recorded.duration is None

    prepared(source)

    blob = (tmp_path / "served").read_bytes()
    # Matroska's element ids of a cue table and of the length (RFC 9559, section 5.1).
    assert b"\x1c\x53\xbb\x6b" in blob
    assert b"\x44\x89" in blob


def test_an_mp4_is_served_with_its_index_first(tmp_path):
    prepared(sounds.m4a(tmp_path / "source", LINE))

    blob = (tmp_path / "served").read_bytes()
    assert blob.index(b"moov") < blob.index(b"mdat")


@pytest.mark.parametrize("kind", ["webm", "m4a", "mp3", "wav", "flac", "ogg", "mp4 with picture"])
def test_what_the_phone_wrote_in_stays_behind(tmp_path, kind):
    source = tmp_path / "source"
    match kind:
        case "webm":
            sounds.webm(source, LINE, metadata=sounds.SECRETS)
        case "m4a":
            sounds.m4a(source, LINE, metadata=sounds.SECRETS, options={"movflags": "use_metadata_tags"})
        case "mp3":
            sounds.mp3(source, LINE, metadata=sounds.SECRETS)
        case "wav":
            sounds.wav(source, LINE, metadata=sounds.SECRETS)
        case "flac":
            sounds.write(source, LINE, codec="flac", format="flac", metadata=sounds.SECRETS)
        case "ogg":
            opus(source, metadata=sounds.SECRETS)
        case _:
            sounds.m4a(source, LINE, metadata=sounds.SECRETS, picture=True)
    assert sounds.SECRETS["title"].encode() in source.read_bytes()

    prepared(source)

    blob = (tmp_path / "served").read_bytes()
    assert [secret for secret in sounds.SECRETS.values() if secret.encode() in blob] == []
    with av.open(str(tmp_path / "served")) as served:
        told = dict(served.metadata) | dict(served.streams.audio[0].metadata)
        assert {name.lower() for name in told} <= {
            "encoder", "duration", "major_brand", "minor_version", "compatible_brands", "language",
            "handler_name", "vendor_id",
        }  # fmt: skip


@pytest.mark.parametrize("format", ["mp4", "webm"])
def test_a_videos_sound_is_taken_and_its_picture_dropped(tmp_path, format):
    codec, rate = ("aac", 44_100) if format == "mp4" else ("libopus", 48_000)
    source = sounds.write(tmp_path / "source", LINE, codec=codec, format=format, rate=rate, picture=True)

    take = prepared(source)

    assert take.findings == [Finding.HAD_PICTURE]
    with av.open(str(tmp_path / "served")) as served:
        assert [stream.type for stream in served.streams] == ["audio"]


def test_a_cover_picture_makes_no_video_of_a_recording(tmp_path):
    source = tmp_path / "source"
    with av.open(str(source), "w", format="mp3") as out:
        stream = out.add_stream("libmp3lame", rate=44_100, layout="mono")
        cover = out.add_stream("png", rate=1)
        cover.width, cover.height, cover.pix_fmt = 16, 16, "rgb24"
        cover.disposition = Disposition.attached_pic
        image = av.VideoFrame.from_ndarray(np.zeros((16, 16, 3), np.uint8), format="rgb24")
        image.pts = 0
        out.mux(cover.encode(image))
        out.mux(cover.encode(None))
        sound = sounds.line(seconds=2, rate=44_100)
        frame = av.AudioFrame.from_ndarray(sound[np.newaxis, :], format="fltp", layout="mono")
        frame.rate = 44_100
        fifo = av.AudioResampler(
            format=stream.codec_context.format.name, layout="mono", rate=44_100, frame_size=1152
        )
        for ready in [*fifo.resample(frame), *fifo.resample(None)]:
            out.mux(stream.encode(ready))
        out.mux(stream.encode(None))

    take = prepared(source)

    assert take.findings == []
    with av.open(str(tmp_path / "served")) as served:
        assert [stream.type for stream in served.streams] == ["audio"]


def test_a_hole_in_the_time_stamps_stays_a_hole(tmp_path):
    """A browser whose tab slept for 1.5 s: what was played afterwards keeps its time."""
    take = prepared(sounds.webm(tmp_path / "source", LINE, hole=(1.0, 1.5)))

    assert take.seconds == pytest.approx(4.5, abs=0.05)
    # 450 values of a hundredth of a second: sound, 1.5 s of nothing, sound.
    assert max(take.peaks[:95]) == 100
    assert max(take.peaks[106:248]) <= 1
    assert max(take.peaks[256:]) > 50


# Bad input: each a plain sentence.


def test_an_empty_file(tmp_path):
    source = tmp_path / "source"
    source.write_bytes(b"")

    assert refused(source).sentence == "This file is empty; record it again or choose another file."


def test_a_text_that_calls_itself_m4a(tmp_path):
    source = tmp_path / "essay.m4a"
    source.write_text("My summer in the brass section. " * 200)

    assert refused(source).sentence == NOT_A_RECORDING


def test_random_bytes(tmp_path):
    source = tmp_path / "source"
    source.write_bytes(np.random.default_rng(3).bytes(200_000))

    assert refused(source).sentence == NOT_A_RECORDING


@pytest.mark.parametrize(
    "playlist",
    [
        "#EXTM3U\n#EXT-X-VERSION:3\n#EXTINF:3,\nfile:{other}\n#EXT-X-ENDLIST\n",
        "ffconcat version 1.0\nfile '{other}'\n",
        "#EXTM3U\n#EXT-X-VERSION:3\n#EXTINF:3,\nhttp://127.0.0.1:9/other.mp3\n#EXT-X-ENDLIST\n",
    ],
)
def test_a_list_that_names_other_files_is_no_recording(tmp_path, playlist):
    """FFmpeg would follow it and play another student's file."""
    other = sounds.mp3(tmp_path / "other.mp3", LINE)
    source = tmp_path / "source"
    source.write_text(playlist.format(other=other))

    assert refused(source).sentence == NOT_A_RECORDING


def test_a_picture_without_sound(tmp_path):
    source = tmp_path / "source"
    with av.open(str(source), "w", format="mp4") as out:
        video = out.add_stream("mpeg4", rate=10)
        video.width, video.height, video.pix_fmt = 64, 48, "yuv420p"
        for n in range(20):
            image = av.VideoFrame.from_ndarray(np.full((48, 64, 3), n, np.uint8), format="rgb24")
            image.pts = n
            out.mux(video.encode(image))
        out.mux(video.encode(None))

    assert (
        refused(source).sentence == "There is no sound in this file; record it again or choose another file."
    )


def test_a_truncated_m4a_without_its_index(tmp_path):
    whole = sounds.m4a(tmp_path / "whole", LINE).read_bytes()
    source = tmp_path / "source"
    source.write_bytes(whole[: len(whole) // 2])

    assert refused(source).sentence == CUT_OFF


def test_a_truncated_m4a_whose_index_came_first_keeps_what_is_there(tmp_path):
    whole = sounds.m4a(tmp_path / "whole", LINE, options={"movflags": "faststart"}).read_bytes()
    source = tmp_path / "source"
    source.write_bytes(whole[: len(whole) * 6 // 10])

    take = prepared(source)

    assert take.findings == [Finding.CUT_SHORT]
    assert 1.0 <= take.seconds < 2.5


def test_less_than_a_second_of_a_truncated_file_is_refused(tmp_path):
    whole = sounds.m4a(tmp_path / "whole", LINE, options={"movflags": "faststart"}).read_bytes()
    source = tmp_path / "source"
    source.write_bytes(whole[: len(whole) // 4])

    assert refused(source).sentence == CUT_OFF


@pytest.mark.parametrize("make", [sounds.wav, sounds.webm, sounds.mp3])
def test_other_truncated_files_keep_what_is_there(tmp_path, make):
    whole = make(tmp_path / "whole", LINE).read_bytes()
    source = tmp_path / "source"
    source.write_bytes(whole[: len(whole) * 6 // 10])

    take = prepared(source)

    assert 1.0 <= take.seconds < 2.5
    assert take.findings == [Finding.CUT_SHORT]


def test_bytes_broken_in_the_middle_are_told(tmp_path):
    whole = bytearray(sounds.m4a(tmp_path / "whole", LINE).read_bytes())
    middle = len(whole) // 2
    whole[middle : middle + 3000] = np.random.default_rng(1).bytes(3000)
    source = tmp_path / "source"
    source.write_bytes(whole)

    take = prepared(source)

    assert take.findings == [Finding.DAMAGED]
    assert take.seconds == pytest.approx(3, abs=0.06)


@pytest.mark.parametrize("make", [sounds.webm, sounds.wav])
def test_a_take_of_no_length(tmp_path, make):
    """The button was hit twice: a well-formed file with one sample in it."""
    source = make(tmp_path / "source", sounds.line(seconds=0.4)[:1])

    assert refused(source).sentence == "This recording is less than half a second long; record it again."


def test_too_short_says_so(tmp_path):
    source = sounds.wav(tmp_path / "source", sounds.line(seconds=0.3))

    assert refused(source).sentence == "This recording is less than half a second long; record it again."


@pytest.mark.parametrize("make", [sounds.webm, sounds.m4a, sounds.wav, sounds.mp3])
def test_a_silent_take_is_kept_and_told(tmp_path, make):
    take = prepared(make(tmp_path / "source", sounds.silence(seconds=2)))

    assert take.findings == [Finding.SILENT]
    assert set(take.peaks) == {0}


def test_a_dead_microphone_is_silent_although_the_recorder_put_its_marker_in(tmp_path):
    sound = sounds.with_marker(sounds.silence(seconds=3), at=0.5)

    take = prepared(sounds.webm(tmp_path / "source", sound))

    assert take.findings == [Finding.SILENT]
    assert take.marker_seconds == pytest.approx(0.5, abs=0.0005)


def test_a_very_quiet_and_a_clipped_take_are_kept_and_told(tmp_path):
    quiet = prepared(sounds.wav(tmp_path / "quiet", sounds.line(level=0.005)))
    loud = prepared(sounds.wav(tmp_path / "loud", np.clip(sounds.line(level=3), -1, 1)))

    assert (quiet.findings, loud.findings) == ([Finding.VERY_QUIET], [Finding.CLIPPED])


def test_too_long_by_its_header_is_refused_without_decoding(tmp_path):
    """A WAV of three hours that holds only its first seconds: the header alone decides."""
    source = sounds.wav(tmp_path / "source", LINE)
    blob = bytearray(source.read_bytes())
    data = blob.index(b"data")
    size = 3 * 3600 * 48_000 * 2
    blob[data + 4 : data + 8] = size.to_bytes(4, "little")
    source.write_bytes(blob)
    with source.open("r+b") as file:  # a sparse file: three hours of nothing take no room
        file.truncate(size + 44)

    assert refused(source).sentence == (
        "This recording is longer than 15 minutes; cut it, or record just the line that is asked for."
    )


@pytest.mark.parametrize("make", [sounds.webm, sounds.mp3, sounds.m4a, sounds.wav])
def test_too_long_is_refused_whether_or_not_a_header_says_so(tmp_path, make):
    source = make(tmp_path / "source", sounds.line(seconds=4))

    assert refused(source, limits=Limits(longest_seconds=2)).refusal == Refusal.TOO_LONG


def test_too_long_without_an_index_is_refused_while_it_is_decoded(tmp_path):
    source = sounds.write(
        tmp_path / "source", sounds.line(seconds=4), codec="pcm_s16le", format="matroska",
        options={"live": "1"},
    )  # fmt: skip

    assert refused(source, limits=Limits(longest_seconds=2)).refusal == Refusal.TOO_LONG


# The command.


def run(*arguments: object) -> subprocess.CompletedProcess[str]:
    limited = [sys.executable, "-m", "submissions.takes.limited", "20", "1500"]
    return subprocess.run(
        [*limited, "submissions.preparing", *map(str, arguments)],
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )  # fmt: skip


def test_the_command_prints_what_it_found(tmp_path):
    ended = run(sounds.webm(tmp_path / "source", LINE), tmp_path / "served")

    answer = json.loads(ended.stdout)
    assert ended.returncode == 0
    assert set(answer) == {"media_type", "seconds", "peaks", "findings", "marker_seconds"}
    assert answer["media_type"] == "audio/webm"


def test_the_command_prints_a_refusal_as_an_answer(tmp_path):
    (tmp_path / "source").write_text("no sound at all")

    ended = run(tmp_path / "source", tmp_path / "served")

    assert ended.returncode == 0
    assert json.loads(ended.stdout) == {"refusal": "not a recording", "sentence": NOT_A_RECORDING}


def test_the_engine_needs_no_django(tmp_path):
    probe = "import sys, submissions.preparing.prepare; sys.exit('django' in sys.modules)"

    assert subprocess.run([sys.executable, "-c", probe], cwd=settings.BASE_DIR, check=False).returncode == 0


def test_limits_end_a_process_that_wants_too_much():
    hungry = (
        "import runpy, sys; sys.argv = ['x', '5', '300', 'hungry']; import submissions.takes.limited as l; "
    )
    hungry += "l.limit(seconds=5, megabytes=300); bytearray(400 * 1024 * 1024)"

    ended = subprocess.run(
        [sys.executable, "-c", hungry], cwd=settings.BASE_DIR, capture_output=True, text=True, check=False
    )

    assert ended.returncode == 1
    assert "MemoryError" in ended.stderr
