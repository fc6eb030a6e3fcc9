"""Where could a note begin?

Definition: every moment at which the likeliest semitone changes, the spectrum rises at once, or the level
dips; far more than there are notes. For each, the log-odds that a note begins there although the pitch
stays the same (a repeat tongued softly against a wavering of breath), from a logistic regression on the
depth of the dip, its high end, the flux and the loss of periodicity, each also against this take's own
strong boundaries.

Assumptions: notes last at least 40 ms. The weights were fitted to simulated takes.
"""

from dataclasses import dataclass

import numpy as np

from submissions.listening.envelopes import Envelopes
from submissions.listening.frames import EVIDENCE_PER_FRAME, Frames
from submissions.listening.units import FINE_PER_HOP, HOP_SECONDS, Bools, Floats, Ints

NO_PITCH = -1

PITCH_CHANGE_COST = 2.5
PATH_SILENCE_SHARE = 0.6
"""Silence is cheaper here than in the decoder: an end too many costs nothing, one too few is lost."""
CLOSEST_FRAMES = 4
FLUX_FLOOR, FLUX_SHARE = 0.10, 0.25
LEVEL_DIP_DB, HIGH_DIP_DB = 2.5, 5.0
SILENT_REACH = 6
"""Frames on both sides without any pitch within which nothing can begin or end."""
DIP_REACH = 10
"""Fine hops on each side in which a dip is the lowest point (50 ms)."""
BEFORE_DIP, AFTER_DIP = (-40, -5), (5, 35)
"""Fine hops whose median is the level before and after a dip."""
NEARBY_SECONDS = 0.9
CONTEXT_FRAMES = 30

WEIGHTS = np.array(
    [
        2.5580, -1.2394, 2.9561, -1.5488, 1.1907, 0.4582, 0.1800, -4.4438,
        2.8699, -0.1244, 1.3284, 0.0167, 1.2119, -0.3866, 0.8000, -4.3525,
    ]
)  # fmt: skip
LOWEST_LOG_ODDS, HIGHEST_LOG_ODDS = -3.5, 5.0
RELEASE_LOG_ODDS = -6.0
RELEASE_DB, RELEASE_RISE_DB = 4.0, 1.0
"""Where the level falls by more than this for good, and does not rise again, a note ends and none begins."""
RELEASE_AFTER = (4, 30)
"""Fine hops in which it would have risen."""


@dataclass(frozen=True, slots=True)
class Boundaries:
    frame: Ints
    """Frames at which a note could begin or end; the first is 0 and the last the end of the take."""
    repeat_log_odds: Floats
    """That a new note begins here when the pitch does not change."""
    dip_db: Floats
    path: Ints
    """The likeliest semitone of every frame, NO_PITCH where none."""

    @property
    def seconds(self) -> Floats:
        return np.asarray(self.frame * HOP_SECONDS, dtype=np.float64)


def boundaries(frames: Frames, envelopes: Envelopes) -> Boundaries:
    path = semitone_path(frames)
    at = _places(path, envelopes, count=len(path))
    features = _features(at, frames, envelopes)
    log_odds = np.clip(_expanded(features, at) @ WEIGHTS, LOWEST_LOG_ODDS, HIGHEST_LOG_ODDS)
    log_odds = np.where(_releases(at, envelopes.level_db), RELEASE_LOG_ODDS, log_odds)
    return Boundaries(frame=at, repeat_log_odds=log_odds, dip_db=features[:, 0], path=path)


def semitone_path(frames: Frames) -> Ints:
    """The likeliest semitone of every frame when each change costs the same (Viterbi)."""
    emission = (
        np.concatenate([frames.likelihood, PATH_SILENCE_SHARE * frames.silence[:, None]], axis=1)
        / EVIDENCE_PER_FRAME
    )
    count, states = emission.shape
    stay = np.arange(states)
    back = np.empty((count, states), np.int16)
    score = emission[0].copy()
    for frame in range(1, count):
        best = int(score.argmax())
        jump = score[best] - PITCH_CHANGE_COST
        jumps = jump > score
        back[frame] = np.where(jumps, best, stay)
        score = np.maximum(score, jump) + emission[frame]
    path = np.empty(count, dtype=np.int64)
    path[-1] = int(score.argmax())
    for frame in range(count - 1, 0, -1):
        path[frame - 1] = back[frame, path[frame]]
    return np.where(path < states - 1, path + frames.lowest, NO_PITCH)


def _places(path: Ints, envelopes: Envelopes, *, count: int) -> Ints:
    """Frames of all boundaries, at least CLOSEST_FRAMES apart; a pitch change wins over its neighbours."""
    changes = np.nonzero(np.diff(path))[0] + 1
    smooth = np.convolve(envelopes.flux, np.ones(3) / 3, "same")
    threshold = max(FLUX_FLOOR, FLUX_SHARE * float(np.percentile(smooth, 95)))
    rises = np.nonzero((smooth > threshold) & (smooth == _extreme(smooth, 8, np.max)))[0]
    places = [(int(frame), True) for frame in changes]
    places += [(int(hop) // FINE_PER_HOP, False) for hop in rises if 4 <= hop < len(smooth) - 4]
    for level, depth in ((envelopes.level_db, LEVEL_DIP_DB), (envelopes.high_db, HIGH_DIP_DB)):
        lowest = np.nonzero(level == _extreme(level, DIP_REACH, np.min))[0]
        lowest = lowest[(lowest >= DIP_REACH) & (lowest < len(level) - DIP_REACH)]
        deep = _depth(level, lowest) > depth
        places += [(int(hop) // FINE_PER_HOP, False) for hop in lowest[deep]]
    places.sort()
    sounds = np.convolve(path != NO_PITCH, np.ones(2 * SILENT_REACH + 1), "same") > 0
    kept = [0]
    for frame, is_change in places:
        if frame >= count:
            break
        if not sounds[frame]:
            continue
        if frame - kept[-1] >= CLOSEST_FRAMES:
            kept.append(frame)
        elif is_change and len(kept) > 1:
            kept[-1] = frame
    if count - kept[-1] < 2 and len(kept) > 1:
        kept.pop()
    kept.append(count)
    return np.unique(np.array(kept, dtype=np.int64))


def _extreme(values: Floats, reach: int, of: object) -> Floats:
    """Largest (np.max) or smallest (np.min) value within `reach` places of each place."""
    padded = np.pad(values, reach, mode="edge")
    window = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    return np.asarray(window.max(axis=1) if of is np.max else window.min(axis=1), dtype=np.float64)


def _depth(level: Floats, at: Ints) -> Floats:
    """How far each place lies under the lower of the levels before and after it."""
    if not len(at):
        return np.zeros(0)
    before = at[:, None] + np.arange(*BEFORE_DIP)[None]
    after = at[:, None] + np.arange(*AFTER_DIP)[None]
    last = len(level) - 1
    left = np.median(level[np.clip(before, 0, last)], axis=1)
    right = np.median(level[np.clip(after, 0, last)], axis=1)
    return np.asarray(np.minimum(left, right) - level[at], dtype=np.float64)


def _releases(at: Ints, level: Floats) -> Bools:
    last = len(level) - 1
    fine = np.clip(at * FINE_PER_HOP, 0, last)
    before = np.median(level[np.clip(fine[:, None] + np.arange(-12, 0)[None], 0, last)], axis=1)
    after = level[np.clip(fine[:, None] + np.arange(*RELEASE_AFTER)[None], 0, last)]
    lowest = np.minimum.accumulate(after, axis=1)
    rises = (after - lowest).max(axis=1) > RELEASE_RISE_DB
    falls = before - np.median(after, axis=1) > RELEASE_DB
    return np.asarray(falls & ~rises, dtype=np.bool_)


def _features(at: Ints, frames: Frames, envelopes: Envelopes) -> Floats:
    """Six raw measures of each: dip, high dip, flux, high flux, periodicity lost, unvoiced frames."""
    raw = np.zeros((len(at), 6))
    inner = at[1:-1]
    if not len(inner):
        return raw
    fine_last = len(envelopes.level_db) - 1
    around = np.clip(inner[:, None] * FINE_PER_HOP + np.arange(-8, 9)[None], 0, fine_last)
    for column, level in ((0, envelopes.level_db), (1, envelopes.high_db)):
        lowest = around[np.arange(len(inner)), level[around].argmin(axis=1)]
        raw[1:-1, column] = np.clip(_depth(level, lowest), -3.0, 30.0)
    raw[1:-1, 2] = 10.0 * envelopes.flux[around].max(axis=1)
    raw[1:-1, 3] = 10.0 * envelopes.high_flux[around].max(axis=1)
    last = len(frames.strength) - 1
    near = np.clip(inner[:, None] + np.arange(-4, 5)[None], 0, last)
    wide = np.clip(inner[:, None] + np.arange(-CONTEXT_FRAMES, CONTEXT_FRAMES)[None], 0, last)
    usual = np.median(frames.strength[wide], axis=1)
    raw[1:-1, 4] = 10.0 * (usual - frames.strength[near].min(axis=1))
    raw[1:-1, 5] = (~frames.voiced[near]).sum(axis=1)
    return raw


def _expanded(raw: Floats, at: Ints) -> Floats:
    """The regression's sixteen columns: raw measures, hinges, and each against this take's own."""
    dip, high_dip, flux, high_flux, lost, unvoiced = raw.T
    seconds = at * HOP_SECONDS
    near: Bools = np.abs(seconds[:, None] - seconds[None]) < NEARBY_SECONDS
    np.fill_diagonal(near, False)
    sorted_dips = np.sort(np.where(near, dip[None], np.inf), axis=1)
    neighbours = near.sum(axis=1)
    place = np.maximum(0, (0.75 * (neighbours - 1)).astype(int))
    nearby_dip = np.where(neighbours > 0, sorted_dips[np.arange(len(at)), place], 0.0)
    inner = slice(1, max(2, len(at) - 1))
    own_flux = max(3.0, float(np.percentile(flux[inner], 85)))
    own_dip = max(3.0, float(np.percentile(dip[inner], 85)))
    return np.stack(
        [
            dip / 10,
            high_dip / 10,
            flux / 10,
            high_flux / 10,
            lost / 5,
            unvoiced / 5,
            np.maximum(0, dip - 5) / 10,
            np.maximum(0, dip - 12) / 10,
            np.maximum(0, high_dip - 6) / 10,
            np.maximum(0, flux - 5) / 10,
            np.clip(dip, 0, 20) * np.clip(flux, 0, 15) / 100,
            nearby_dip / 10,
            np.clip(flux / own_flux, 0, 2),
            np.clip(dip / own_dip, 0, 2),
            np.maximum(0, dip - nearby_dip - 4) / 10,
            np.ones(len(at)),
        ],
        axis=1,
    )
