"""Writes the copy that is served: playable and seekable in a browser, and free of what the phone wrote in.

Nothing of the old container is copied but the sound itself, so titles, places, cover pictures and
encoder names stay behind. Sound that browsers play is not encoded again. Everything else becomes
FLAC, which loses nothing, keeps exact time and plays in every browser of today.
"""

from dataclasses import dataclass
from pathlib import Path

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.container import OutputContainer

from submissions.preparing.findings import Limits, Refusal, Unusable
from submissions.preparing.opening import Opened
from submissions.preparing.reading import Reading

# FLAC in a browser; speech-grade phone recordings keep their own lower rate.
HIGHEST_RATE = 48_000
# A hole longer than this is a damaged time line, not a pause: no silence of hours is written.
LONGEST_GAP_SECONDS = 60


@dataclass(frozen=True, slots=True)
class Container:
    """How a codec is wrapped when it is not encoded again."""

    format: str
    media_type: str
    options: dict[str, str]


# "bitexact" leaves out the name and version of the writing program.
PLAIN = {"fflags": "+bitexact"}
WRAPPED = {
    "opus": Container("webm", "audio/webm", PLAIN),
    "aac": Container("mp4", "audio/mp4", PLAIN | {"movflags": "+faststart"}),
    "mp3": Container("mp3", "audio/mpeg", PLAIN | {"id3v2_version": "0", "write_id3v1": "0"}),
    "flac": Container("flac", "audio/flac", PLAIN),
}
FLAC = WRAPPED["flac"]


def write_served(*, opened: Opened, to: Path, limits: Limits) -> str:
    """Write the served copy to `to` and return its media type; raise Unusable if it is too long."""
    container = WRAPPED.get(opened.codec)
    # A video's frames stand between those of its sound: flac in there has no header of its own.
    if container is None or (container is FLAC and "flac" not in opened.kind):
        _encode(opened=opened, to=to, limits=limits)
        return FLAC.media_type
    _wrap(opened=opened, to=to, container=container, limits=limits)
    return container.media_type


def _open(to: Path, container: Container) -> OutputContainer:
    return av.open(f"file:{to}", "w", format=container.format, options=dict(container.options))


def _wrap(*, opened: Opened, to: Path, container: Container, limits: Limits) -> None:
    """Copy the packets, moved so that the first one stands at zero."""
    with _open(to, container) as out:
        stream = out.add_stream_from_template(opened.stream)
        stream.metadata.clear()
        shift: int | None = None
        packets = opened.container.demux(opened.stream)
        while True:
            try:
                packet = next(packets, None)
            except av.FFmpegError:
                break  # the rest of the file is missing; what came is kept
            if packet is None:
                break
            if packet.dts is None or packet.pts is None or packet.size == 0 or packet.is_corrupt:
                continue
            if shift is None:
                shift = max(packet.pts, 0)
            packet.pts -= shift
            packet.dts -= shift
            if float(packet.pts * packet.time_base) > limits.longest_seconds:
                raise Unusable(Refusal.TOO_LONG, minutes=limits.longest_minutes)
            packet.stream = stream
            out.mux(packet)


def _encode(*, opened: Opened, to: Path, limits: Limits) -> None:
    """Decode and write as mono FLAC of 16 bits, holes in the time line filled with silence."""
    rate = min(opened.stream.rate, HIGHEST_RATE)
    with _open(to, FLAC) as out:
        stream = out.add_stream("flac", rate=rate, layout="mono")
        stream.format = "s16"
        resampler = av.AudioResampler(format="s16", layout="mono", rate=rate)
        written = 0  # samples at the source's own rate
        first: int | None = None

        def write(samples: np.ndarray, source_rate: int) -> None:
            frame = AudioFrame.from_ndarray(np.ascontiguousarray(samples), format="flt", layout="mono")
            frame.rate = source_rate
            for ready in resampler.resample(frame):
                ready.pts = None
                out.mux(stream.encode(ready))

        for block in Reading(opened):
            first = block.start if first is None else first
            start = block.start - first
            if (start + block.samples.shape[1]) / block.rate > limits.longest_seconds:
                raise Unusable(Refusal.TOO_LONG, minutes=limits.longest_minutes)
            gap = min(start - written, LONGEST_GAP_SECONDS * block.rate)
            if gap > 0:
                write(np.zeros((1, gap), np.float32), block.rate)
            write(block.samples.mean(axis=0, keepdims=True, dtype=np.float32), block.rate)
            written = start + block.samples.shape[1]
        for ready in resampler.resample(None):
            ready.pts = None
            out.mux(stream.encode(ready))
        out.mux(stream.encode(None))
