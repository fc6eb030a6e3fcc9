"""Where two readings of a take fit about as well, both are said."""

import pytest

from submissions.listening import alternatives, winds
from submissions.listening.envelopes import envelopes
from submissions.listening.evidence import Verdict
from submissions.listening.performance import Performance, Sounded
from submissions.listening.score import Score
from submissions.listening.spelling import with_written
from submissions.listening.verdicts import notes_heard
from tests.listening.test_hear import MIDIS, SCORE, heard
from tests.listening.tones import line, played

W, P, N, UNSURE = Verdict.AS_WRITTEN, Verdict.OTHER_PITCH, Verdict.NOT_HEARD, Verdict.UNSURE


def left_out_and_the_next_early(note: int, *, late: float) -> list:
    """(midi, onset, held), the next note `late` beats after this one was due, and held up to its own end."""
    notes = played(MIDIS)
    begins = notes[note][1] + 0.75 * late
    midi, onset, held = notes[note + 1]
    notes[note : note + 2] = [(midi, begins, onset + held - begins)]
    return notes


def test_a_note_left_out_and_a_slip_onto_the_next_are_both_said():
    note = heard(left_out_and_the_next_early(3, late=0.2)).notes[3]
    assert (note.verdict, note.leaning, note.heard_midi) == (UNSURE, N, None)
    assert note.why_unsure == "either left out or played as A"


def test_a_note_left_out_in_its_own_time_is_not_doubted():
    evidence = heard(left_out_and_the_next_early(3, late=0.75))
    assert [note.verdict for note in evidence.notes] == [W] * 3 + [N] + [W] * 8


def test_read_forwards_and_backwards_the_prices_agree():
    """Through each note of the likeliest path, the best whole path is that path."""
    samples = line(left_out_and_the_next_early(3, late=0.2), 10)
    hypothesis = winds._as_written(winds.track(samples, score=SCORE), envelopes(samples), SCORE)
    through = hypothesis.search.best + alternatives.Onward(hypothesis.search).worth
    for item in hypothesis.decoding.placed:
        assert through[item.start, item.note] == pytest.approx(hypothesis.decoding.log_score, abs=1e-6)
    assert through.max() == pytest.approx(hypothesis.decoding.log_score, abs=1e-6)


def said(
    *, pitch: int | None, alternative: alternatives.Alternative, explained: tuple[int, ...] = (), merged=()
):
    """What is said of the second of three notes, 62 64 65, when it sounds as `pitch`."""
    score = Score.from_json(
        {
            "instrument": "alto_sax",
            "transposition": -9,
            "notes": [{"midi": m, "start_beat": i, "beats": 1} for i, m in enumerate((62, 64, 65))],
            "fifths": 1,
        }
    )
    sounding = {0: 62, 1: pitch, 2: 65}
    performance = Performance(
        sounded=tuple(
            Sounded(note=note, pitch=midi, onset=note, end=note + 0.9, cents=0.0, certainty=0.99)
            for note, midi in sounding.items()
            if midi is not None
        ),
        extra=(),
        attempts=(),
        restarted=False,
        resumed_at=None,
        seconds_per_beat=1.0,
        tuning=0.0,
        transposed=0,
        agreement=1.0,
        merged=merged,
        alternatives=(alternative,),
    )
    return notes_heard(performance, with_written(score), beats_off={}, explained=explained)[1]


@pytest.mark.parametrize(
    ("pitch", "other", "why"),
    [
        (63, None, "either played as C or left out"),
        (63, 64, "either played as C or as written"),
        (None, 64, "either left out or as written"),
        (None, 65, "either left out or played as D"),
    ],
)
def test_both_readings_are_named_in_the_students_own_letters(pitch, other, why):
    note = said(pitch=pitch, alternative=alternatives.Alternative(1, other, behind=1.25))
    assert (note.verdict, note.why_unsure, note.confidence) == (UNSURE, why, pytest.approx(0.25))


def test_a_note_as_written_is_doubted_only_by_a_reading_that_is_hardly_behind():
    assert said(pitch=64, alternative=alternatives.Alternative(1, None, behind=1.25)).verdict is W
    note = said(pitch=64, alternative=alternatives.Alternative(1, None, behind=0.25))
    assert (note.verdict, note.leaning) == (UNSURE, W)
    assert note.why_unsure == "either as written or left out"


def test_a_note_that_a_misreading_explains_is_not_doubted():
    alternative = alternatives.Alternative(1, None, behind=0.25)
    assert said(pitch=63, alternative=alternative).verdict is UNSURE
    assert said(pitch=63, alternative=alternative, explained=(1,)).verdict is P


def test_a_note_hidden_in_the_one_beside_it_is_said_so_first():
    note = said(pitch=None, alternative=alternatives.Alternative(1, 65, behind=0.1), merged=(1,))
    assert note.why_unsure == "could not be separated from the note beside it"
