"""Decodes a stream to its end, placed by time stamps.

Sample counts are not time: an mp4 with Opus may start at 0.08 s, and a browser whose tab slept
leaves a hole. A block's place is where its own time stamp puts it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.resampler import AudioResampler
from av.audio.stream import AudioStream
from av.packet import Packet
from numpy.typing import NDArray

from submissions.preparing.opening import Opened

# A hole longer than this is a clock that jumped, not a pause: no silence of hours is made of it.
LONGEST_GAP_SECONDS = 60
# Rounded time stamps (milliseconds in webm) are no gap; a lost packet of 20 ms is.
GAP_SECONDS = 0.015


@dataclass(frozen=True, slots=True)
class SampleKind:
    """How a sample is stored: its type, its value for silence, its value at full scale."""

    dtype: type[np.generic]
    middle: int
    full: float


# By FFmpeg's names of the packed formats.
SAMPLES = {
    "u8": SampleKind(np.uint8, 128, 2.0**7),
    "s16": SampleKind(np.int16, 0, 2.0**15),
    "s32": SampleKind(np.int32, 0, 2.0**31),
    "s64": SampleKind(np.int64, 0, 2.0**63),
    "flt": SampleKind(np.float32, 0, 1.0),
    "dbl": SampleKind(np.float64, 0, 1.0),
}
# A broken file is not worth decoding for ever.
MOST_ERRORS = 500


@dataclass(frozen=True, slots=True)
class Block:
    """Consecutive samples. `samples` is float32, channels by time, full scale at ±1."""

    start: int  # sample index on the file's own time line
    rate: int  # samples a second
    samples: NDArray[np.float32]

    @property
    def end(self) -> int:
        return self.start + int(self.samples.shape[1])


@dataclass(slots=True)
class Reading:
    """Iterate once; afterwards `errors` counts packets that did not decode, `lost_seconds` their length."""

    opened: Opened
    errors: int = 0
    lost_seconds: float = 0.0
    _resampler: AudioResampler | None = None

    def __iter__(self) -> Iterator[Block]:
        rate = self.opened.stream.rate
        place, jumped = 0, 0
        for frame in self._frames():
            seconds = frame.time
            stamped = place if seconds is None else round(seconds * rate) - jumped
            if stamped - place > LONGEST_GAP_SECONDS * rate:
                jumped += stamped - place - LONGEST_GAP_SECONDS * rate
                stamped = place + LONGEST_GAP_SECONDS * rate
            if abs(stamped - place) > GAP_SECONDS * rate:
                place = max(place, stamped)
            for samples in self._at_rate(frame, rate):
                # What stands before zero is priming that the player drops as well.
                yield Block(start=place, rate=rate, samples=samples)
                place += samples.shape[1]

    def _at_rate(self, frame: AudioFrame, rate: int) -> Iterator[NDArray[np.float32]]:
        """A frame as it is; of a second recording in the same file, brought to the rate of the first."""
        if frame.sample_rate == rate:
            yield channels_of(frame)
            return
        if self._resampler is None:
            self._resampler = AudioResampler(format="fltp", layout="mono", rate=rate)
        for flat in self._resampler.resample(frame):
            yield channels_of(flat)

    def _frames(self) -> Iterator[AudioFrame]:
        packets = self.opened.container.demux(self.opened.stream)
        packet: Packet[AudioStream] | None = None
        while True:
            try:
                packet = None
                packet = next(packets, None)
                if packet is None:
                    return
                frames = [] if packet.is_corrupt else packet.decode()
                failed = packet.is_corrupt
            except av.FFmpegError:
                frames, failed = [], True
            if failed:
                self.errors += 1
                self.lost_seconds += _length_of(packet)
                if self.errors > MOST_ERRORS:
                    return
            for frame in frames:
                if isinstance(frame, AudioFrame):
                    yield frame


def _length_of(packet: "Packet[AudioStream] | None") -> float:
    """Seconds; what says nothing of its length, or could not even be read, counts as a whole second."""
    if packet is None or packet.duration is None or packet.time_base is None:
        return 1.0
    return float(packet.duration * packet.time_base) or 1.0


def channels_of(frame: AudioFrame) -> NDArray[np.float32]:
    """Channels by time, full scale at ±1, of any sample format.

    Read plane by plane: the library's own arrays fail beyond eight channels. Of a planar frame with more,
    its first eight are read.
    """
    kind = SAMPLES[frame.format.packed.name]
    planes = [np.frombuffer(plane, kind.dtype) for plane in frame.planes]
    if frame.format.is_planar:
        raw = np.stack([plane[: frame.samples] for plane in planes])
    else:
        wanted = frame.samples * frame.layout.nb_channels
        raw = planes[0][:wanted].reshape(frame.samples, -1).T
    return ((raw - kind.middle) / kind.full).astype(np.float32)
