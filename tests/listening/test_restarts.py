"""The last attempt counts; the earlier ones stay visible."""

from submissions.listening.restarts import false_start, given_up, last_attempt, restart_places
from submissions.listening.tempo import Event


def test_a_path_that_only_rises_has_no_restart():
    assert restart_places([0, 1, 3, 4]) == []
    assert last_attempt([0, 1, 3]) == {0: 0, 1: 1, 3: 2}


def test_a_restart_is_judged_by_its_last_attempt():
    assert last_attempt([0, 1, 2, 0, 1, 2, 3]) == {0: 3, 1: 4, 2: 5, 3: 6}


def test_a_note_skipped_after_the_restart_is_not_credited_from_before_it():
    assert last_attempt([0, 1, 2, 0, 2, 3]) == {0: 3, 2: 4, 3: 5}


def test_a_restart_from_a_barline_keeps_what_came_before_it():
    assert last_attempt([0, 1, 2, 3, 4, 5, 4, 5, 6]) == {0: 0, 1: 1, 2: 2, 3: 3, 4: 6, 5: 7, 6: 8}


def test_what_was_played_again_was_given_up_and_no_more():
    assert given_up([0, 1, 2, 3]) == []
    assert given_up([0, 1, 2, 0, 1, 2, 3]) == [(0, 3)]
    assert given_up([0, 1, 2, 3, 4, 5, 4, 5, 6]) == [(4, 6)]


def test_two_opening_notes_before_the_line_are_a_false_start():
    before = [Event(0.2, 0.8, 60), Event(0.9, 1.4, 62)]
    line = {"pitches": [60, 62, 64], "beats": [0, 1, 2], "seconds_per_beat": 0.7}
    assert false_start(before, **line)
    assert not false_start(before[:1], **line)
    assert not false_start([Event(0.2, 0.8, 60), Event(0.9, 1.4, 67)], **line)
    assert not false_start([Event(0.2, 0.8, 55), Event(2.9, 3.4, 62)], **line)


def test_a_false_start_given_up_at_its_first_slip_is_one_when_it_came_in_time():
    line = {"pitches": [60, 62, 64], "beats": [0, 1, 2], "seconds_per_beat": 0.7}
    assert false_start([Event(0.2, 0.8, 60), Event(0.9, 1.4, 61)], **line)
    assert not false_start([Event(0.2, 0.8, 60), Event(1.05, 1.5, 61)], **line)
    assert not false_start([Event(0.2, 0.8, 61), Event(0.9, 1.4, 61)], **line)


def test_a_short_sound_between_is_no_note_of_a_false_start():
    before = [Event(0.2, 0.7, 60), Event(0.7, 0.9, 61), Event(0.9, 1.4, 62)]
    assert false_start(before, pitches=[60, 62, 64], beats=[0, 1, 2], seconds_per_beat=0.7)


def test_a_false_start_may_hold_a_wrong_note():
    before = [Event(0.2, 0.8, 60), Event(0.9, 1.4, 61), Event(1.6, 2.1, 64)]
    assert false_start(before, pitches=[60, 62, 64], beats=[0, 1, 2], seconds_per_beat=0.7)
