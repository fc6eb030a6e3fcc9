"""Sound becomes the bytes a phone or a browser would send."""

import io

import av
import numpy as np

from tests.listening.simulator.sounding import RATE

FORMATS = {
    "webm": ("libopus", 48_000, 64_000),
    "ogg": ("libopus", 48_000, 48_000),
    "m4a": ("aac", 44_100, 96_000),
    "mp3": ("libmp3lame", 44_100, 96_000),
    "wav": ("pcm_s16le", 44_100, None),
    "flac": ("flac", 44_100, None),
    "low webm": ("libopus", 48_000, 16_000),
    "low m4a": ("aac", 44_100, 32_000),
}
_CONTAINER = {"m4a": "mp4", "low m4a": "mp4", "low webm": "webm"}


def encode(sound: np.ndarray, kind: str, *, options: dict[str, str] | None = None, rate: int = RATE) -> bytes:
    codec, coded_rate, bits = FORMATS[kind]
    out = io.BytesIO()
    with av.open(out, "w", format=_CONTAINER.get(kind, kind), options=options or {}) as container:
        stream = container.add_stream(codec, rate=coded_rate, layout="mono")
        if bits:
            stream.bit_rate = bits
        samples = np.ascontiguousarray(sound, dtype=np.float32)[np.newaxis]
        frame = av.AudioFrame.from_ndarray(samples, format="fltp", layout="mono")
        frame.sample_rate = rate
        resampler = av.AudioResampler(
            format=stream.codec_context.format.name,
            layout="mono",
            rate=coded_rate,
            frame_size=stream.codec_context.frame_size or 1024,
        )
        for part in [*resampler.resample(frame), *resampler.resample(None)]:
            container.mux(stream.encode(part))
        container.mux(stream.encode(None))
    return out.getvalue()
