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
from numpy.typing import NDArray

from submissions.preparing.opening import Opened

# Rounded time stamps (milliseconds in webm) are no gap; a lost packet of 20 ms is.
GAP_SECONDS = 0.015
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
    """Iterate once; afterwards `errors` counts packets that could not be decoded."""

    opened: Opened
    errors: int = 0

    def __iter__(self) -> Iterator[Block]:
        stream = self.opened.stream
        rate = stream.rate
        resampler = AudioResampler(format="fltp", layout=stream.codec_context.layout, rate=rate)
        place = 0
        for frame in self._frames():
            seconds = frame.time
            if seconds is not None and abs(seconds * rate - place) > GAP_SECONDS * rate:
                place = max(place, round(seconds * rate))
            for flat in resampler.resample(frame):
                samples = flat.to_ndarray().astype(np.float32, copy=False)
                # What stands before zero is priming that the player drops as well.
                yield Block(start=place, rate=rate, samples=samples)
                place += samples.shape[1]

    def _frames(self) -> Iterator[AudioFrame]:
        packets = self.opened.container.demux(self.opened.stream)
        while True:
            try:
                packet = next(packets, None)
                if packet is None:
                    return
                if packet.is_corrupt:
                    self.errors += 1
                    continue
                frames = packet.decode()
            except av.FFmpegError:
                self.errors += 1
                if self.errors > MOST_ERRORS:
                    return
                continue
            for frame in frames:
                if isinstance(frame, AudioFrame):
                    yield frame
