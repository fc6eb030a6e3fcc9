"""Files as phones and browsers write them, made here by FFmpeg's encoders (through PyAV), each described.

Two kinds no encoder at hand can make. They lie in `data`, written once by Debian's ffmpeg 5.1 with
libavcodec-extra from the same three seconds: AMR-NB (libopencore-amrnb) and AMR-WB (libvo-amrwbenc), in 3gp.
`webkit_take.mp4` is what the recorder of WebKitGTK 2.50 wrote of a synthesised flute: Opus in fragmented
mp4 whose decode times run backwards near the end.
"""

import contextlib
import functools
import tempfile
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from submissions.preparing.opening import HEARD, LET_IN
from tests.submissions.takes import sounds

DATA = Path(__file__).parent / "data"
LINE = sounds.line(seconds=3)
#: Fragments of half a second; the index of the whole waits for the first, so that the edit list is known.
FRAGMENTS = {"movflags": "frag_keyframe+delay_moov+default_base_moof", "frag_duration": "500000"}


def changing_frame_rate(path: Path) -> Path:
    """A phone's camera in a dim room: pictures come when they are ready, the sound beside them is even."""
    with av.open(str(path), "w", format="mp4", options={"movflags": "faststart"}) as out:
        sound = out.add_stream("aac", rate=44_100, layout="mono")
        video = out.add_stream("mpeg4", rate=30)
        video.width, video.height, video.pix_fmt = 64, 48, "yuv420p"
        video.codec_context.time_base = Fraction(1, 1000)
        milliseconds = 0
        for number in range(40):
            image = av.VideoFrame.from_ndarray(np.full((48, 64, 3), number * 6, np.uint8), format="rgb24")
            image.pts, image.time_base = milliseconds, Fraction(1, 1000)
            milliseconds += 33 if number % 3 else 133
            out.mux(video.encode(image))
        out.mux(video.encode(None))
        frame = av.AudioFrame.from_ndarray(LINE[np.newaxis, :], format="flt", layout="mono")
        frame.rate = sounds.RATE
        resampler = av.AudioResampler(format="fltp", layout="mono", rate=44_100, frame_size=1024)
        for ready in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(sound.encode(ready))
        out.mux(sound.encode(None))
    return path


def kept(name: str) -> Callable[[Path], object]:
    return lambda path: path.write_bytes((DATA / name).read_bytes())


MADE: dict[str, Callable[[Path], object]] = {
    # Safari and the iPhone's recorder: AAC, its priming named in an edit list
    "aac in fragments": lambda p: sounds.m4a(p, LINE, options=FRAGMENTS),
    "aac in fragments, stereo": lambda p: sounds.m4a(p, LINE, options=FRAGMENTS, channels=2),
    "aac": lambda p: sounds.m4a(p, LINE),
    "aac, index first": lambda p: sounds.m4a(p, LINE, options={"movflags": "faststart"}),
    "aac without container": lambda p: sounds.write(p, LINE, codec="aac", format="adts", rate=44_100),
    "alac": lambda p: sounds.write(
        p, LINE, codec="alac", format="mp4", rate=44_100, options={"movflags": "faststart"}
    ),
    # Chrome and Edge, Firefox: Opus, without a length
    "webm": lambda p: sounds.webm(p, LINE),
    "webm, stereo": lambda p: sounds.webm(p, LINE, channels=2),
    "webm whose clock jumps": lambda p: sounds.webm(p, LINE, hole=(1.5, 36_000)),
    "ogg": lambda p: sounds.write(p, LINE, codec="libopus", format="ogg"),
    "opus in mp4": lambda p: sounds.write(
        p, LINE, codec="libopus", format="mp4", starts_at=0.08, options=FRAGMENTS
    ),
    "webkit": kept("webkit_take.mp4"),
    # older phones' own recorders
    "amr-nb in 3gp": kept("amr_nb.3gp"),
    "amr-wb in 3gp": kept("amr_wb.3gp"),
    "mp3": lambda p: sounds.mp3(p, LINE),
    "mp3 without its table": lambda p: sounds.mp3(p, LINE, options={"write_xing": "0"}),
    "mp3 at 16 kHz": lambda p: sounds.write(
        p, LINE, codec="libmp3lame", format="mp3", rate=16_000, bit_rate=32_000
    ),
    "wav at 48 kHz": lambda p: sounds.wav(p, LINE),
    "wav at 44.1 kHz, stereo": lambda p: sounds.wav(p, LINE, rate=44_100, channels=2),
    "wav at 16 kHz": lambda p: sounds.wav(p, LINE, rate=16_000),
    "wav at 8 kHz": lambda p: sounds.wav(p, LINE, rate=8_000),
    "flac": lambda p: sounds.write(p, LINE, codec="flac", format="flac"),
    "video of a changing frame rate": changing_frame_rate,
}


@functools.cache
def written(name: str) -> bytes:
    """The file `name` of MADE, made once."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "made"
        MADE[name](path)
        return path.read_bytes()


def heard_seconds(path: Path) -> float:
    """How much sound FFmpeg alone decodes, of a kind that is let in; what it cannot read is passed over."""
    seconds = 0.0
    with contextlib.suppress(av.FFmpegError, ValueError), av.open(str(path)) as container:
        stream = next(
            (s for s in container.streams.audio if s.codec_context and s.codec_context.codec.name in HEARD),
            None,
        )
        if stream is None or not set(container.format.name.split(",")) & LET_IN:
            return 0.0
        for packet in container.demux(stream):
            with contextlib.suppress(av.FFmpegError):
                seconds += sum(frame.samples / frame.sample_rate for frame in packet.decode())
    return seconds
