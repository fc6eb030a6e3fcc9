"""What sound is in this file, and when?

Definition: the samples of the first audio stream as one channel at one rate, where sample i stands at
i / rate seconds on the file's own clock.

Assumptions: a phone or browser made the file (WebM, MP4, fragmented MP4, M4A, MP3, Ogg, WAV, FLAC), so
decoded frames carry timestamps. Timestamps decide, not sample counts: an MP4 from a browser may start
80 ms in, and a stream whose packets were lost has a hole, which becomes silence of the same length.
A file cut off in the middle yields what can still be read of it.

A coder needs a run-in before its first real sample. Files made by whole programs say so (their first packet
is stamped before zero, and the decoder drops it); files cut from a live stream do not, and every sound in
them stands late by the run-in. It is taken off by the least run-in the coder can have.
"""

import io
from dataclasses import dataclass
from pathlib import Path

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.audio.resampler import AudioResampler

from submissions.listening.errors import HearingError
from submissions.listening.units import Floats32

LONGEST_SECONDS = 900.0
"""Fifteen minutes: far beyond an exercise, short of exhausting the memory of a school's server."""

HOLE_SECONDS = 0.030
"""A timestamp this far from the running count is a real hole; less is a container's rounding."""

RUN_IN_SAMPLES = {"aac": 1024, "mp3": 1105, "mp3float": 1105, "opus": 312, "libopus": 312}
"""At the stream's own rate: one AAC frame; MP3's filter bank and decoder; Opus' look-ahead at 48 kHz."""

CANCELLED_SHARE = 0.25
"""A mix holding less of the louder channel's power than this has opposed channels: take that channel."""


@dataclass(frozen=True, slots=True)
class DecodedSound:
    samples: Floats32
    rate: int
    cut_off: bool
    """The file ended before its stream did."""

    @property
    def seconds(self) -> float:
        return len(self.samples) / self.rate


def decode(audio: bytes | Path, *, rate: int) -> DecodedSound:
    """Decode a whole take to one channel at `rate` samples per second.

    Raises HearingError for a file that is missing, empty, not audio, or longer than LONGEST_SECONDS.
    """
    if isinstance(audio, Path):
        try:
            size = audio.stat().st_size
        except OSError as error:
            raise HearingError(f"The recording cannot be opened: {error.strerror or error}.") from error
    else:
        size = len(audio)
    if size == 0:
        raise HearingError("The recording is empty: the file has no bytes.")
    native, native_rate, cut_off = _read(audio)
    if not len(native):
        raise HearingError("The recording holds no sound: not one sample could be decoded.")
    return DecodedSound(samples=_resampled(native, native_rate, rate), rate=rate, cut_off=cut_off)


def _read(audio: bytes | Path) -> tuple[Floats32, int, bool]:
    """(samples at the stream's own rate, that rate, whether the file broke off)."""
    blocks: list[tuple[int, Floats32]] = []
    native_rate, cut_off, next_sample, run_in = 0, False, 0, 0
    try:
        with av.open(io.BytesIO(audio) if isinstance(audio, bytes) else str(audio), mode="r") as container:
            if not container.streams.audio:
                raise HearingError("The file holds no audio stream: send a sound recording.")
            stream = container.streams.audio[0]
            try:
                first_packet = True
                for packet in container.demux(stream):
                    if first_packet and (packet.pts is None or packet.pts >= 0):
                        run_in = RUN_IN_SAMPLES.get(stream.codec_context.name, 0)
                    first_packet = False
                    for frame in packet.decode():
                        native_rate = native_rate or frame.sample_rate
                        start = _start(frame, native_rate, expected=next_sample if blocks else None)
                        block = _one_channel(frame)
                        next_sample = start + len(block)
                        if next_sample > LONGEST_SECONDS * native_rate:
                            raise HearingError(
                                f"The recording is longer than {LONGEST_SECONDS / 60:.0f} minutes: "
                                "send the exercise alone."
                            )
                        blocks.append((start, block))
            except av.FFmpegError:
                cut_off = True
    except av.FFmpegError as error:
        raise HearingError("The file is not a sound recording that can be read.") from error
    if not blocks:
        return np.zeros(0, dtype=np.float32), native_rate, cut_off
    samples = np.zeros(max(start + len(block) for start, block in blocks), dtype=np.float32)
    for stamped, block in blocks:
        start = stamped - run_in
        kept = block[max(0, -start) :]  # samples stamped before zero are the coder's run-in
        samples[max(0, start) : max(0, start) + len(kept)] = kept
    return samples, native_rate, cut_off


def _start(frame: AudioFrame, rate: int, *, expected: int | None) -> int:
    """Where a frame belongs, in samples: at its timestamp when that leaves a real hole, else in a row."""
    if frame.pts is None or frame.time_base is None:
        return expected or 0
    stamped = round(float(frame.pts * frame.time_base) * rate)
    if expected is None or abs(stamped - expected) > HOLE_SECONDS * rate:
        return stamped
    return expected


def _one_channel(frame: AudioFrame) -> Floats32:
    raw = frame.to_ndarray()
    kind = raw.dtype
    if kind == np.uint8:
        raw = (raw.astype(np.float32) - 128.0) / 128.0
    elif kind.kind == "i":
        raw = raw.astype(np.float32) / float(2 ** (8 * kind.itemsize - 1))
    elif not np.isfinite(raw).all():
        raw = np.nan_to_num(raw, nan=0.0, posinf=0.0, neginf=0.0)
    channels = frame.layout.nb_channels
    planar = raw if frame.format.is_planar else raw.reshape(-1, channels).T
    if channels == 1:
        return np.ascontiguousarray(planar[0], dtype=np.float32)
    mix = planar.mean(axis=0, dtype=np.float32)
    powers = np.square(planar, dtype=np.float32).mean(axis=1)
    loudest = int(powers.argmax())
    if float(np.square(mix).mean()) < CANCELLED_SHARE * float(powers[loudest]) / channels:
        return np.ascontiguousarray(planar[loudest], dtype=np.float32)
    return np.ascontiguousarray(mix, dtype=np.float32)


def _resampled(samples: Floats32, native_rate: int, rate: int) -> Floats32:
    if native_rate == rate:
        return samples
    resampler = AudioResampler(format="fltp", layout="mono", rate=rate)
    parts = []
    for start in range(0, len(samples), native_rate):  # by the second: the resampler keeps what it was given
        frame = AudioFrame.from_ndarray(
            samples[np.newaxis, start : start + native_rate], format="fltp", layout="mono"
        )
        frame.sample_rate = native_rate
        parts += [part.to_ndarray()[0] for part in resampler.resample(frame)]
    parts += [part.to_ndarray()[0] for part in resampler.resample(None)]
    return np.concatenate(parts) if parts else np.zeros(0, dtype=np.float32)
