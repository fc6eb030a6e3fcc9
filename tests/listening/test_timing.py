"""Early and late, by worked tables of our own."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from submissions.listening.timing import beats_off, unsteadiness

BEATS = list(range(12))


def steady(pace=0.8, start=1.0):
    return [start + pace * beat for beat in BEATS]


def test_steady_playing_is_on_the_beat():
    off = beats_off(steady(), BEATS, seconds_per_beat=0.8)
    assert off[0] is None
    assert off[-1] is None
    assert off[1:-1] == pytest.approx([0.0] * 10)


@pytest.mark.parametrize("late", [0.3, -0.3, 0.5])
def test_one_note_off_flags_that_note_alone(late):
    onsets = steady()
    onsets[5] += late * 0.8
    off = beats_off(onsets, BEATS, seconds_per_beat=0.8)
    assert off[5] == pytest.approx(late, abs=0.03)
    assert [abs(o) < 0.1 for i, o in enumerate(off) if o is not None and i != 5] == [True] * 9


def test_a_hesitation_does_not_flag_everything_after_it():
    onsets = steady()
    onsets = onsets[:6] + [at + 0.5 * 0.8 for at in onsets[6:]]
    off = beats_off(onsets, BEATS, seconds_per_beat=0.8)
    assert [abs(o) < 0.1 for o in off[1:-1]] == [True] * 10


def test_slowing_down_is_not_lateness():
    onsets, now, pace = [], 1.0, 0.7
    for _ in BEATS:
        onsets.append(now)
        now += pace
        pace *= 1.015
    off = beats_off(onsets, BEATS, seconds_per_beat=0.76)
    assert max(abs(o) for o in off[1:-1]) < 0.15


def test_three_notes_have_no_clock():
    assert beats_off([0.0, 1.0, 2.0], [0, 1, 2], seconds_per_beat=1.0) == [None] * 3
    assert unsteadiness([0.0, 1.0, 2.0], [0, 1, 2], seconds_per_beat=1.0) is None


@given(st.floats(-5, 50), st.floats(0.4, 1.4), st.integers(2, 9), st.floats(-0.45, 0.45))
def test_neither_starting_later_nor_playing_slower_changes_beats(start, pace, note, late):
    """A clock has no zero and no speed of its own."""

    def played(at, speed):
        onsets = [at + speed * beat for beat in BEATS]
        onsets[note] += late * speed
        return beats_off(onsets, BEATS, seconds_per_beat=speed)

    first, second = played(0.0, 1.0), played(start, pace)
    assert second[1:-1] == pytest.approx(first[1:-1], abs=1e-6)
