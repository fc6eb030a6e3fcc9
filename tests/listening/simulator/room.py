"""The room and the phone: noise, hum, speech, clicks, reverberation, a small microphone, clipping."""

import numpy as np
from scipy.signal import butter, fftconvolve, lfilter, sosfilt

from tests.listening.simulator.sounding import RATE


def noise(rng: np.random.Generator, sound: np.ndarray, *, snr_db: float) -> np.ndarray:
    """Pink-tilted noise at a level under the sounding parts."""
    white = rng.normal(size=len(sound))
    coloured = lfilter([0.05], [1, -0.95], white) + 0.1 * white
    level = np.sqrt(np.mean(sound[np.abs(sound) > 0.02 * np.abs(sound).max()] ** 2) + 1e-12)
    return sound + coloured / np.std(coloured) * level * 10 ** (-snr_db / 20)


def hum(rng: np.random.Generator, sound: np.ndarray) -> np.ndarray:
    mains, time = rng.choice([50.0, 60.0]), np.arange(len(sound)) / RATE
    level = 10 ** (-rng.uniform(26, 40) / 20)
    wave = sum(np.sin(2 * np.pi * mains * n * time + n) / n for n in (1, 2, 3))
    return sound + level * wave


def reverberation(rng: np.random.Generator, sound: np.ndarray) -> np.ndarray:
    length = rng.uniform(0.25, 0.6)
    time = np.arange(int(length * RATE)) / RATE
    tail = rng.normal(size=len(time)) * np.exp(-6.9 * time / length)
    tail = tail / np.sqrt(np.sum(tail**2)) * rng.uniform(0.15, 0.4)
    return sound + fftconvolve(sound, tail)[: len(sound)]


def hall(rng: np.random.Generator, sound: np.ndarray) -> np.ndarray:
    """A live room: a handful of early reflections, then a tail that darkens, dying in 0.6 to 1.2 s."""
    length = rng.uniform(0.6, 1.2)
    response = np.zeros(int(length * RATE))
    response[0] = 1.0
    for _ in range(int(rng.integers(5, 10))):
        at = rng.uniform(0.004, 0.05)
        response[int(at * RATE)] += rng.choice((-1, 1)) * rng.uniform(0.2, 0.6) * np.exp(-at / 0.03)
    time = np.arange(len(response)) / RATE
    tail = lfilter([0.3], [1, -0.7], rng.normal(size=len(time))) * np.exp(-6.9 * time / length)
    tail[: int(0.03 * RATE)] = 0.0
    response += tail / np.sqrt(np.sum(tail**2)) * rng.uniform(0.25, 0.55)
    return fftconvolve(sound, response)[: len(sound)]


def breathy(rng: np.random.Generator, sound: np.ndarray) -> np.ndarray:
    """Air in the tone: noise that follows its level, 18 to 32 dB under."""
    level = np.sqrt(np.convolve(sound**2, np.ones(882) / 882, "same"))
    air = sosfilt(butter(2, [700, 6000], "bandpass", fs=RATE, output="sos"), rng.normal(size=len(sound)))
    return sound + air / np.std(air) * level * 10 ** (-rng.uniform(18, 32) / 20)


def vibrato(rng: np.random.Generator, sound: np.ndarray) -> np.ndarray:
    """Five to seven waves a second, up to 45 cents to each side, coming and going."""
    time = np.arange(len(sound)) / RATE
    speed, depth = rng.uniform(4.8, 6.8), rng.uniform(10, 45)
    away = (2 ** (depth / 1200) - 1) / (2 * np.pi * speed)
    strength = 0.5 + 0.5 * np.sin(2 * np.pi * rng.uniform(0.15, 0.5) * time + rng.uniform(0, 6))
    at = time + away * strength * np.sin(2 * np.pi * speed * time)
    return np.interp(at, time, sound)


def wavering(rng: np.random.Generator, sound: np.ndarray) -> np.ndarray:
    """Unsteady breath: the level wanders by a few decibels, at times within a quarter of a second."""
    points = np.arange(0, len(sound) + RATE, int(0.12 * RATE))
    decibels = np.interp(np.arange(len(sound)), points, rng.normal(0, 1.3, len(points)))
    return sound * 10 ** (decibels / 20)


def phone(rng: np.random.Generator, sound: np.ndarray) -> np.ndarray:
    edges = butter(2, [rng.uniform(80, 220), rng.uniform(6500, 12000)], "bandpass", fs=RATE, output="sos")
    return sosfilt(edges, sound)


def clicks(rng: np.random.Generator, sound: np.ndarray, *, count: int, level: float = 0.3) -> np.ndarray:
    out = sound.copy()
    for _ in range(count):
        at = rng.integers(0, len(out) - 2000)
        length = rng.integers(60, 500)
        burst = rng.normal(size=length) * np.exp(-np.arange(length) / (length / 5))
        out[at : at + length] += level * burst / (np.abs(burst).max() + 1e-9)
    return out


def breath(rng: np.random.Generator, sound: np.ndarray, *, count: int) -> np.ndarray:
    out = sound.copy()
    for _ in range(count):
        length = int(rng.uniform(0.2, 0.5) * RATE)
        if len(out) <= length:
            continue
        at = rng.integers(0, len(out) - length)
        burst = sosfilt(butter(2, [400, 4000], "bandpass", fs=RATE, output="sos"), rng.normal(size=length))
        out[at : at + length] += 0.03 * burst / np.std(burst) * np.hanning(length)
    return out


def speech(rng: np.random.Generator, seconds: float) -> np.ndarray:
    """Gliding, syllabic, formant-filtered pulses: a voice's pitch never holds still."""
    count = int(seconds * RATE)
    out, at = np.zeros(count), int(rng.uniform(0.1, 0.5) * RATE)
    voice = rng.uniform(140, 280)
    while at < count - RATE // 2:
        length = int(rng.uniform(0.12, 0.32) * RATE)
        time = np.arange(length) / RATE
        start, end = voice * rng.uniform(0.85, 1.3), voice * rng.uniform(0.75, 1.15)
        pitch = np.linspace(start, end, length) * (1 + 0.02 * np.sin(2 * np.pi * 5 * time))
        phase = np.cumsum(pitch) / RATE
        pulses = np.diff(np.floor(phase), prepend=0.0) + 0.02 * rng.normal(size=length)
        for formant, width in ((rng.uniform(300, 800), 90), (rng.uniform(900, 2300), 130), (2700, 200)):
            radius = np.exp(-np.pi * width / RATE)
            pulses = lfilter([1.0], [1, -2 * radius * np.cos(2 * np.pi * formant / RATE), radius**2], pulses)
        pulses /= np.abs(pulses).max() + 1e-9
        stop = min(count, at + length)
        out[at:stop] += 0.3 * (pulses * np.hanning(length) ** 0.5)[: stop - at]
        at += length + int(rng.choice([0.02, 0.05, 0.25, 0.6]) * RATE)
    return out


def clipped(sound: np.ndarray, *, over: float) -> np.ndarray:
    return np.clip(sound / (np.abs(sound).max() + 1e-9) * over, -1, 1) * 0.99
