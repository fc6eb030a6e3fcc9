"""When each written beat sounds: by evidence, by the marker, by guess. Expected values worked by hand."""

import pytest

from submissions.grading.timing import Source, counted_map, guessed_map, heard_map


def test_heard_onsets_carry_the_beats_between_them():
    times = heard_map([0, 2, 4], [1.0, 3.0, 4.0])
    assert times is not None
    assert times.source is Source.HEARD
    assert [times.seconds_at(beat) for beat in (0, 1, 2, 3, 4)] == [1.0, 2.0, 3.0, 3.5, 4.0]


def test_beyond_the_last_onset_the_tempo_goes_on():
    times = heard_map([0, 2, 4], [1.0, 3.0, 4.0])
    assert times is not None
    assert times.seconds_at(6) == 5.0
    assert times.beat_at(5.0) == 6.0


def test_a_note_that_was_not_heard_and_one_that_runs_backwards_are_left_out():
    times = heard_map([0, 1, 2, 3], [1.0, None, 0.5, 4.0])
    assert times is not None
    assert times.points == ((0.0, 1.0), (3.0, 4.0))


@pytest.mark.parametrize("onsets", [[None, None], [1.0, None], [2.0, 1.0]])
def test_fewer_than_two_onsets_are_no_map(onsets: list[float | None]):
    assert heard_map([0, 1], onsets) is None


def test_the_marker_and_the_tempo_place_every_beat():
    times = counted_map(beat_one_seconds=2.0, tempo_bpm=120, beats=8)
    assert (times.source, times.seconds_at(0), times.seconds_at(8)) == (Source.COUNTED, 2.0, 6.0)


def test_a_second_line_of_one_take_begins_after_the_first():
    assert counted_map(beat_one_seconds=2.0, tempo_bpm=120, beats=8, before=8).seconds_at(0) == 6.0


def test_a_guess_spreads_the_line_from_the_first_sound_to_the_last():
    peaks = [0] * 10 + [50] * 80 + [0] * 10
    times = guessed_map(peaks=peaks, seconds=10, beats=8)
    assert times is not None
    assert (times.source, times.seconds_at(0), times.seconds_at(8)) == (Source.GUESSED, 1.0, 9.0)


def test_a_guess_leaves_room_for_the_other_line():
    times = guessed_map(peaks=[50] * 100, seconds=10, beats=8, before=8)
    assert times is not None
    assert (times.seconds_at(0), times.seconds_at(8)) == (5.0, 10.0)


def test_silence_places_nothing():
    assert guessed_map(peaks=[3] * 100, seconds=10, beats=8) is None
    assert guessed_map(peaks=[], seconds=10, beats=8) is None
