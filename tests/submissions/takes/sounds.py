"""Sound for tests, synthesised here: lines of notes, the recorder's marker, noise, and files of every kind.

Files are written by FFmpeg through PyAV, which this project did not write.
"""

import contextlib
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

RATE = 48_000
CONCERT_B_FLAT_LINE = (58, 60, 62, 58)
# Written into test files to see that none of it reaches a served copy.
SECRETS = {
    "title": "Kitchen at Elm Street",
    "artist": "Quillon Harper",
    "comment": "made by TestRecorder 9",
    "location": "+41.8900-087.6200/",
    "com.apple.quicktime.location.ISO6709": "+41.8900-087.6200+181.000/",
}


def line(*, seconds: float = 3.0, rate: int = RATE, level: float = 0.3) -> NDArray[np.float32]:
    """Four clarinet-like notes (odd harmonics), a sixth of a beat apart, filling `seconds`."""
    sound = np.zeros(round(seconds * rate), np.float32)
    length = sound.size // len(CONCERT_B_FLAT_LINE)
    t = np.arange(length) / rate
    swell = np.minimum(1, np.minimum(t / 0.03, (t[-1] - t) / 0.08)).clip(0)
    for i, midi in enumerate(CONCERT_B_FLAT_LINE):
        hertz = 440 * 2 ** ((midi - 69) / 12)
        tone = sum(np.sin(2 * np.pi * hertz * k * t) / k for k in (1, 3, 5, 7))
        sound[i * length : (i + 1) * length] = level * swell * tone
    return sound


def noise(*, seconds: float, level: float, rate: int = RATE, seed: int = 7) -> NDArray[np.float32]:
    return (np.random.default_rng(seed).standard_normal(round(seconds * rate)) * level).astype(np.float32)


def silence(*, seconds: float, rate: int = RATE) -> NDArray[np.float32]:
    return np.zeros(round(seconds * rate), np.float32)


def recorder_marker(rate: int = RATE) -> NDArray[np.float32]:
    """As the recorder's page makes it sample by sample: 40 ms from 1.5 to 6 kHz at 0.35."""
    count = round(0.04 * rate)
    out = np.zeros(count, np.float32)
    for i in range(count):
        t = i / rate
        phase = 2 * np.pi * (1500 * t + 0.5 * (6000 - 1500) / 0.04 * t * t)
        out[i] = 0.35 * np.sin(phase) * np.sin(np.pi * i / count)
    return out


def with_marker(sound: NDArray[np.float32], *, at: float, rate: int = RATE) -> NDArray[np.float32]:
    marked = sound.copy()
    tone = recorder_marker(rate)
    start = round(at * rate)
    marked[start : start + tone.size] += tone
    return marked


def write(
    path: Path,
    sound: NDArray[np.float32],
    *,
    codec: str,
    format: str,
    rate: int = RATE,
    channels: int = 1,
    bit_rate: int | None = None,
    options: dict[str, str] | None = None,
    metadata: dict[str, str] | None = None,
    picture: bool = False,
    sample_format: str | None = None,
    starts_at: float = 0.0,
    hole: tuple[float, float] | None = None,
) -> Path:
    """Encode `sound` (made at RATE) as a file. `hole` (from, seconds) leaves a gap in the time stamps."""
    layout = "mono" if channels == 1 else "stereo"
    with av.open(str(path), "w", format=format, options=options or {}) as out:
        out.metadata.update(metadata or {})
        stream = out.add_stream(codec, rate=rate, layout=layout)
        if bit_rate:
            stream.bit_rate = bit_rate
        video = None
        if picture:
            video = out.add_stream("libvpx" if format == "webm" else "mpeg4", rate=10)
            video.width, video.height, video.pix_fmt = 64, 48, "yuv420p"
        stream.codec_context.open(strict=False)
        size = stream.codec_context.frame_size or 1024
        resampler = av.AudioResampler(
            format=sample_format or stream.codec_context.format.name,
            layout=layout,
            rate=rate,
            frame_size=size,
        )
        place = round(starts_at * rate)
        source = av.AudioFrame.from_ndarray(sound[np.newaxis, :], format="flt", layout="mono")
        source.rate = RATE
        for frame in [*resampler.resample(source), *resampler.resample(None)]:
            frame.pts = place
            frame.time_base = Fraction(1, rate)
            place += frame.samples
            if hole and place > hole[0] * rate:
                place += round(hole[1] * rate)
                hole = None
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
        if video is not None:
            for n in range(int(sound.size / RATE * 10)):
                image = av.VideoFrame.from_ndarray(
                    np.full((48, 64, 3), n * 7 % 255, np.uint8), format="rgb24"
                )
                image.pts = n
                out.mux(video.encode(image))
            out.mux(video.encode(None))
    return path


def webm(path: Path, sound: NDArray[np.float32], **more: object) -> Path:
    """As a browser's recorder writes it: Opus in WebM to a pipe, so without a length and without an index."""
    return write(path, sound, codec="libopus", format="webm", options={"live": "1"}, bit_rate=96_000, **more)


def m4a(path: Path, sound: NDArray[np.float32], **more: object) -> Path:
    return write(path, sound, codec="aac", format="mp4", rate=44_100, bit_rate=128_000, **more)


def wav(path: Path, sound: NDArray[np.float32], **more: object) -> Path:
    return write(path, sound, codec="pcm_s16le", format="wav", **more)


def mp3(path: Path, sound: NDArray[np.float32], **more: object) -> Path:
    return write(path, sound, codec="libmp3lame", format="mp3", rate=44_100, bit_rate=128_000, **more)


def decoded(path: Path) -> tuple[NDArray[np.float32], int]:
    """All sound of a file as one channel, by FFmpeg alone; packets that do not decode are left out."""
    with av.open(str(path)) as container:
        stream = container.streams.audio[0]
        resampler = av.AudioResampler(format="flt", layout="mono", rate=stream.rate)
        parts: list[NDArray[np.float32]] = []
        for packet in container.demux(stream):
            with contextlib.suppress(av.FFmpegError):
                frames = packet.decode()
                parts += [ready.to_ndarray()[0] for frame in frames for ready in resampler.resample(frame)]
    return (np.concatenate(parts) if parts else np.zeros(0, np.float32)), stream.rate
