"""Writes the copy that is served: playable and seekable in a browser, and free of what the phone wrote in.

Nothing of the old container is copied but the sound itself, so titles, places, cover pictures and
encoder names stay behind. Sound that browsers play is not encoded again, as long as the copy holds what came:
it is decoded and compared. Everything else, and every recording whose packets cannot be copied, becomes
FLAC, which loses nothing, keeps exact time and plays in every browser of today.
"""

import errno
from dataclasses import dataclass
from pathlib import Path

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.container import OutputContainer

from submissions.preparing.findings import Limits, Refusal, Unusable
from submissions.preparing.measuring import Measured, measure
from submissions.preparing.opening import Opened, open_recording
from submissions.preparing.reading import Reading

# FLAC in a browser; speech-grade phone recordings keep their own lower rate.
HIGHEST_RATE = 48_000
# Samples; a long hole takes no memory of its length.
SILENCE_AT_ONCE = 1 << 16
# A container may claim a little more than it holds: padding of the last frame.
CLAIMED_SECONDS = 0.5
# These say nothing of the recording: the disk is full or broken.
FAULTS_OF_THE_MACHINE = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EROFS})


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


def write_served(*, source: Path, like: Measured, to: Path, limits: Limits) -> tuple[str, Measured]:
    """Write the served copy of `source`, whose sound is `like`, to `to`; its media type and what it holds."""
    with open_recording(source) as opened:
        # a player may stop where a packet does not decode
        container = None if like.lost_seconds else _wrapped_in(opened)
        copied = container is not None and _could_wrap(opened=opened, to=to, container=container)
    if container is not None and copied:
        copy = _measured_copy(to, limits=limits)
        if copy is not None and copy.is_like(like):
            return container.media_type, copy
    with open_recording(source) as opened:
        _encode(opened=opened, to=to)
    copy = _measured_copy(to, limits=limits)
    if copy is None:
        raise Unusable(Refusal.TOO_SHORT)
    return FLAC.media_type, copy


def _wrapped_in(opened: Opened) -> Container | None:
    container = WRAPPED.get(opened.codec)
    # A video's frames stand between those of its sound: flac in there has no header of its own.
    return None if container is FLAC and "flac" not in opened.kind else container


def _measured_copy(served: Path, *, limits: Limits) -> Measured | None:
    """What the copy holds; None where it cannot be opened, or claims another length than it has."""
    if not served.exists():  # not one packet could be copied
        return None
    try:
        with open_recording(served) as opened:
            claimed, copy = opened.declared_seconds, measure(opened, limits=limits)
    except Unusable:
        return None
    if claimed is not None and abs(claimed - copy.seconds) > CLAIMED_SECONDS:
        return None
    return copy


def _open(to: Path, container: Container) -> OutputContainer:
    return av.open(f"file:{to}", "w", format=container.format, options=dict(container.options))


def _could_wrap(*, opened: Opened, to: Path, container: Container) -> bool:
    """Copy the packets, moved so that the first one stands at zero; False where that cannot be done.

    A recorder can write decode times that run backwards (WebKit's do), a clock can jump, a header can be
    wrong: whatever the reason, such sound is decoded instead.
    """
    try:
        _wrap(opened=opened, to=to, container=container)
    except Exception as error:
        if getattr(error, "errno", None) in FAULTS_OF_THE_MACHINE:
            raise
        return False
    return True


def _wrap(*, opened: Opened, to: Path, container: Container) -> None:
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
            packet.stream = stream
            out.mux(packet)


def _encode(*, opened: Opened, to: Path) -> None:
    """Decode and write as mono FLAC of 16 bits, holes in the time line filled with silence."""
    reading = Reading(opened)
    rate = min(reading.rate, HIGHEST_RATE)
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

        for block in reading:
            first = block.start if first is None else first
            start = block.start - first
            for at in range(written, start, SILENCE_AT_ONCE):
                write(np.zeros((1, min(SILENCE_AT_ONCE, start - at)), np.float32), block.rate)
            write(block.samples.mean(axis=0, keepdims=True, dtype=np.float32), block.rate)
            written = start + block.samples.shape[1]
        for ready in resampler.resample(None):
            ready.pts = None
            out.mux(stream.encode(ready))
        out.mux(stream.encode(None))
