"""Decodes a stream to its end, placed by time stamps.

Sample counts are not time: an mp4 with Opus may start at 0.08 s, and a browser whose tab slept
leaves a hole. A block's place is where its own time stamp puts it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.plane import AudioPlane
from av.audio.resampler import AudioResampler
from av.audio.stream import AudioStream
from av.packet import Packet
from numpy.typing import NDArray

from submissions.preparing.opening import Opened

# Holes longer than this in all are a clock that jumps, not pauses: no silence of hours is made of them.
LONGEST_GAPS_SECONDS = 60
# A frame's own list of planes fails where a damaged header says more channels than there are.
MOST_PLANES = 8
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
# So often in a row nothing more could be read of a broken file; packets that do not decode are no reason to
# stop, since there may be minutes of sound behind them.
MOST_MISREAD = 100
# No microphone is as fast: a header that says more, or none, is damaged. Its sound gets the usual rate.
HIGHEST_RATE, USUAL_RATE = 384_000, 48_000


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
    """Iterate once; afterwards `lost_seconds` is the length of packets that did not decode.

    `gap_seconds` is the length of holes between sounds, `last_failed` whether the last packet did not decode.
    """

    opened: Opened
    lost_seconds: float = 0.0
    gap_seconds: float = 0.0
    last_failed: bool = False
    _bytes: int = 0  # of packets that decoded, and how long they sound
    _sounding: float = 0.0
    _resampler: AudioResampler | None = None
    _resampled_rate: int = 0

    @property
    def rate(self) -> int:
        """Samples a second of every block."""
        rate = self.opened.stream.rate
        return rate if 0 < rate <= HIGHEST_RATE else USUAL_RATE

    def __iter__(self) -> Iterator[Block]:
        rate = self.rate
        place, jumped, begun = 0, 0, False
        for frame in self._frames():
            seconds = frame.time
            stamped = place if seconds is None else round(seconds * rate) - jumped
            gap = stamped - place
            if gap > GAP_SECONDS * rate:
                kept = min(gap, round((LONGEST_GAPS_SECONDS - self.gap_seconds) * rate))
                jumped += gap - kept
                place += kept
                self.gap_seconds += kept / rate if begun else 0.0
            for samples in self._at_rate(frame):
                # What stands before zero is priming that the player drops as well.
                yield Block(start=place, rate=rate, samples=samples)
                place += samples.shape[1]
                begun = True
        for samples in self._rest():
            yield Block(start=place, rate=rate, samples=samples)
            place += samples.shape[1]

    def _at_rate(self, frame: AudioFrame) -> Iterator[NDArray[np.float32]]:
        """A frame as it is; of a second recording in the same file, brought to the rate of the first."""
        samples = channels_of(frame)
        if frame.sample_rate == self.rate:
            yield from self._rest()
            yield samples
            return
        if self._resampled_rate != frame.sample_rate:
            yield from self._rest()
            self._resampler = AudioResampler(format="fltp", layout="mono", rate=self.rate)
            self._resampled_rate = frame.sample_rate
        one = AudioFrame.from_ndarray(samples.mean(axis=0, keepdims=True), format="fltp", layout="mono")
        one.rate = frame.sample_rate
        yield from self._resampled(one)

    def _rest(self) -> Iterator[NDArray[np.float32]]:
        """What the resampler still holds when another rate begins, or the end is reached."""
        yield from self._resampled(None)
        self._resampler, self._resampled_rate = None, 0

    def _resampled(self, frame: AudioFrame | None) -> Iterator[NDArray[np.float32]]:
        if self._resampler is not None:
            for flat in self._resampler.resample(frame):
                yield channels_of(flat)

    def _frames(self) -> Iterator[AudioFrame]:
        packets = self.opened.container.demux(self.opened.stream)
        misread = 0
        while misread < MOST_MISREAD:
            try:
                packet = next(packets, None)
            except av.FFmpegError:
                # Something in the file cannot be read; what stands behind it often can.
                misread += 1
                self._lose(None)
                packets = self.opened.container.demux(self.opened.stream)
                continue
            if packet is None:
                return
            misread = 0
            try:
                # One that is marked as damaged often decodes all the same.
                frames = packet.decode()
            except av.FFmpegError:
                self._lose(packet)
                continue
            self._bytes += packet.size
            for frame in frames:
                if isinstance(frame, AudioFrame) and frame.samples and frame.sample_rate:
                    self.last_failed = packet.is_corrupt
                    self._sounding += frame.samples / frame.sample_rate
                    yield frame

    def _lose(self, packet: "Packet[AudioStream] | None") -> None:
        self.lost_seconds += self._length_of(packet)
        self.last_failed = True

    def _length_of(self, packet: "Packet[AudioStream] | None") -> float:
        """Seconds; what says nothing of its length, or could not even be read, counts as a whole second.

        All that was skipped to find the next frame of an mp3 stands in one packet, as long as its bytes.
        """
        if packet is None or packet.duration is None or packet.time_base is None:
            return 1.0
        by_bytes = packet.size * self._sounding / self._bytes if self._bytes else 0.0
        return max(float(packet.duration * packet.time_base), by_bytes) or 1.0


def channels_of(frame: AudioFrame) -> NDArray[np.float32]:
    """Channels by time, full scale at ±1, of any sample format.

    Read plane by plane: the library's own arrays fail beyond eight channels. Of a planar frame with more,
    its first eight are read.
    """
    kind = SAMPLES[frame.format.packed.name]
    channels = frame.layout.nb_channels
    if frame.format.is_planar:
        planes = [AudioPlane(frame, index) for index in range(min(channels, MOST_PLANES))]
        raw = np.stack([np.frombuffer(plane, kind.dtype)[: frame.samples] for plane in planes])
    else:
        packed = np.frombuffer(AudioPlane(frame, 0), kind.dtype)
        raw = packed[: frame.samples * channels].reshape(frame.samples, -1).T
    return ((raw - kind.middle) / kind.full).astype(np.float32)
