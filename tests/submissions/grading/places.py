"""Engraved places without an engraver: four bars, two systems, a tie over the line's end, a rest."""

from fractions import Fraction

from exercises.music.engraving import BarPlace, Engraving, NotePlace, SystemPlace
from exercises.music.part import RangeVerdict

# bar, beat, beats, x, system, rest, tie in, midi, name
_NOTES = [
    (1, 1, 2, 60, 0, False, False, 60, "C"),
    (1, 3, 2, 120, 0, False, False, 59, "B"),
    (2, 1, 2, 180, 0, False, False, 57, "A"),
    (2, 3, 2, 240, 0, False, False, 58, "B♭"),
    (3, 1, 1, 40, 1, False, True, 58, "B♭"),
    (3, 2, 1, 80, 1, True, False, None, "rest"),
    (3, 3, 2, 120, 1, False, False, 62, "D"),
    (4, 1, 4, 180, 1, False, False, 60, "C"),
]


def engraving() -> Engraving:
    notes, start = [], Fraction(0)
    for index, (bar, beat, beats, x, system, rest, tie_in, midi, name) in enumerate(_NOTES):
        notes.append(
            NotePlace(
                index=index, bar=bar, note=1, beat=Fraction(beat), beats=Fraction(beats), start=start, x=x,
                y=20.0 + 100 * system, system=system, is_rest=rest, tie_in=tie_in, midi_written=midi,
                name=name, words=name,
            )
        )  # fmt: skip
        start += beats
    bars = [(0, 1, 30, 150, 0), (1, 2, 150, 280, 0), (2, 3, 20, 150, 1), (3, 4, 150, 280, 1)]
    return Engraving(
        svg='<g class="score"></g>',
        width=300.0,
        height=160.0,
        notes=tuple(notes),
        bars=tuple(BarPlace(index, bar, float(a), float(b), system) for index, bar, a, b, system in bars),
        systems=(
            SystemPlace(0, 10, 280, 10, 40, 5, 50),
            SystemPlace(1, 10, 280, 110, 140, 105, 150),
        ),
        fifths=0,
        verdict=RangeVerdict.COMFORTABLE,
    )
