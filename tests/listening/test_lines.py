"""One line cut out of a take of two: what was said of the other line stays there.

Two bars of half notes (four notes, line A) and two bars of quarters (eight notes, line B) for a clarinet, one
note a second in line B, which begins after a pause.
"""

from typing import Any

import pytest

from submissions.listening import lines
from submissions.listening.evidence import Evidence
from submissions.listening.score import Score

PITCHES = [58, 60, 62, 58]
ONSETS = [0.0, 2.0, 4.0, 6.0, 12.0, 13.0, 14.0, 15.0, 16.0, 17.0, 18.0, 19.0]


def whole(*, changed: dict[int, dict[str, Any]] | None = None, **take: Any) -> dict[str, Any]:
    notes = [
        {
            "verdict": "as_written",
            "leaning": "as_written",
            "confidence": 0.9,
            "heard_midi": midi,
            "onset_seconds": onset,
            "held_seconds": 0.9,
            "held_share": 0.9,
            "beats_off": 0.0,
        }
        | (changed or {}).get(number, {})
        for number, (midi, onset) in enumerate(zip(PITCHES * 3, ONSETS, strict=True))
    ]
    return {
        "notes": notes,
        "extra": [],
        "attempts": [],
        "restarted": False,
        "stopped_early": False,
        "other_line": False,
        "misreading": None,
        "changes": [],
        "tempo_bpm": 60.0,
    } | take


def attempt(first: int, last: int, onset: float, end: float) -> dict[str, Any]:
    return {"first_note": first, "last_note": last, "onset_seconds": onset, "end_seconds": end}


def change(note: int, gap_ms: int) -> dict[str, Any]:
    return {"note": note, "gap_ms": gap_ms, "usual_gap_ms": None}


def missing(*numbers: int) -> dict[int, dict[str, Any]]:
    nothing = {"verdict": "not_heard", "leaning": "not_heard", "heard_midi": None, "onset_seconds": None}
    return dict.fromkeys(numbers, nothing)


def score(count: int) -> dict[str, Any]:
    """C, D, E, C as a clarinet reads it, no sign in the key: four half notes, or eight quarters."""
    beats = 2 if count == 4 else 1
    letters = "CDEC" * (count // 4)
    return {
        "instrument": "clarinet",
        "fifths": 0,
        "notes": [
            {
                "midi": midi,
                "start_beat": beats * number,
                "beats": beats,
                "written": {
                    "letter": letter, "alter": 0, "octave": 4, "bar": beats * number // 4 + 1,
                    "beat": beats * number % 4 + 1, "reason": "plain",
                },
            }
            for number, (midi, letter) in enumerate(zip(PITCHES * (count // 4), letters, strict=True))
        ],
    }  # fmt: skip


def cut(evidence: dict[str, Any], *, score: dict[str, Any], **place: Any) -> dict[str, Any]:
    return lines.cut(Evidence.from_json(evidence), score=Score.from_json(score), **place).to_json()


def both(evidence: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    return (
        cut(evidence, start=0, end=4, score=score(4)),
        cut(evidence, start=4, end=12, score=score(8)),
    )


def test_a_restart_in_line_b_is_none_in_line_a():
    """Line B was begun, given up after three notes, and begun again."""
    a, b = both(whole(restarted=True, attempts=[attempt(4, 6, 8.0, 11.5)]))
    assert (a["restarted"], a["attempts"]) == (False, [])
    assert (b["restarted"], b["attempts"]) == (True, [attempt(0, 2, 8.0, 11.5)])


def test_an_attempt_that_ran_from_line_a_into_line_b_belongs_to_b_from_where_b_began():
    a, b = both(whole(restarted=True, attempts=[attempt(0, 6, 0.0, 11.5)]))
    assert (a["restarted"], a["attempts"]) == (False, [])
    assert (b["restarted"], b["attempts"]) == (True, [attempt(0, 2, 6.9, 11.5)])


def test_a_restart_in_line_a_is_none_in_line_b():
    a, b = both(
        whole(
            restarted=True,
            attempts=[attempt(0, 1, -3.0, -0.5)],
        )
    )
    assert (a["restarted"], a["attempts"]) == (True, [attempt(0, 1, -3.0, -0.5)])
    assert (b["restarted"], b["attempts"]) == (False, [])


def test_going_back_to_line_a_after_beginning_b_is_a_restart_of_both():
    a, b = both(whole(restarted=True, attempts=[attempt(0, 5, -10.0, -1.0)]))
    assert (a["restarted"], b["restarted"]) == (True, True)
    assert (a["attempts"][0]["last_note"], b["attempts"][0]["last_note"]) == (3, 1)


def test_the_long_last_note_before_the_pause_is_no_restart_and_its_length_unknown():
    """The listener took the tail of line A's last note for a new start of it."""
    tail = {3: {"onset_seconds": 7.5, "held_share": 0.1, "held_seconds": 0.2, "beats_off": 1.5}}
    a, b = both(whole(changed=tail, restarted=True, attempts=[attempt(0, 3, 0.0, 7.5)]))
    assert (a["restarted"], a["attempts"]) == (False, [])
    assert (b["restarted"], b["attempts"]) == (False, [])
    last = a["notes"][-1]
    assert (last["held_seconds"], last["held_share"], last["beats_off"]) == (None, None, None)
    assert (last["verdict"], last["onset_seconds"]) == ("as_written", 7.5)


def test_a_false_start_before_the_first_note_belongs_to_the_first_line():
    a, b = both(whole(restarted=True))
    assert (a["restarted"], b["restarted"]) == (True, False)


def test_a_stop_in_line_b_is_none_in_line_a():
    a, b = both(whole(changed=missing(9, 10, 11), stopped_early=True))
    assert (a["stopped_early"], b["stopped_early"]) == (False, True)


def test_a_stop_in_line_a_is_seen_though_line_b_was_played_whole():
    a, b = both(whole(changed=missing(2, 3)))
    assert (a["stopped_early"], b["stopped_early"]) == (True, False)


def test_extra_notes_belong_to_the_line_they_are_nearer_to():
    a, b = both(whole(extra=[{"midi": 60, "onset_seconds": s} for s in (3.0, 8.9, 9.1, 30.0)]))
    assert [extra["onset_seconds"] for extra in a["extra"]] == [3.0, 8.9]
    assert [extra["onset_seconds"] for extra in b["extra"]] == [9.1, 30.0]


def test_another_line_is_said_of_the_line_that_was_not_played():
    off = {"verdict": "other_pitch", "leaning": "other_pitch", "heard_midi": 65}
    a, b = both(whole(changed=dict.fromkeys(range(4, 12), off), other_line=True))
    assert (a["other_line"], b["other_line"]) == (False, True)


def test_changes_of_fingering_are_counted_within_their_line():
    a, b = both(whole(changes=[change(1, 90), change(6, 80)]))
    assert a["changes"] == [change(1, 90)]
    assert b["changes"] == [change(2, 80)]


def test_another_instruments_part_is_said_with_each_lines_own_notes():
    found = {"cause": "other_instrument", "sentence": "Sounds like the trumpet part.", "notes": [0, 1, 5]}
    a, b = both(whole(misreading=found))
    assert (a["misreading"]["notes"], b["misreading"]["notes"]) == ([0, 1], [1])


def test_a_misreading_names_the_bars_of_its_own_line():
    """A clarinet in D major (C and F are sharp) plays C in line B alone; nothing is wrong in line A."""
    line_b = score(8) | {"fifths": 2}
    for note in line_b["notes"]:
        if note["written"]["letter"] == "C":
            note["midi"] += 1
            note["written"] |= {"alter": 1, "reason": "key"}
    changed = {number: {"verdict": "other_pitch", "leaning": "other_pitch"} for number in (4, 7, 8, 11)}
    evidence = whole(changed=changed)
    assert cut(evidence, start=0, end=4, score=score(4))["misreading"] is None
    found = cut(evidence, start=4, end=12, score=line_b)["misreading"]
    assert (found["cause"], found["notes"]) == ("key_forgotten", [0, 3, 4, 7])
    assert ", from bar 1, beat 1;" in found["sentence"]


@pytest.mark.parametrize("name", ["restarted", "stopped_early", "other_line"])
def test_what_is_unknown_of_the_take_stays_unknown(name: str):
    silent = whole(changed=missing(*range(12)), **{name: None})
    assert [line[name] for line in both(silent)] == [None, None]


def test_each_line_has_its_own_tempo():
    """Line B was played at twice the tempo of line A: a note every half second."""
    faster = {number: {"onset_seconds": 12 + 0.5 * (number - 4)} for number in range(4, 12)}
    assert [line["tempo_bpm"] for line in both(whole(changed=faster))] == [60.0, 120.0]


def test_a_tempo_that_a_line_cannot_show_is_the_takes():
    silent = whole(changed=missing(*range(12)), tempo_bpm=60.0)
    assert cut(silent, start=4, end=12, score=score(8), stretch=0.75)["tempo_bpm"] == 80.0


def test_early_and_late_are_counted_in_the_lines_own_beats():
    """Three quarters of a beat of line A at 60 is a whole beat of line B at 80."""
    late = whole(changed={6: {"beats_off": 0.75}}, steadiness=0.03)
    b = cut(late, start=4, end=12, score=score(8), stretch=0.75)
    assert (b["notes"][2]["beats_off"], b["steadiness"]) == (1.0, 0.04)
