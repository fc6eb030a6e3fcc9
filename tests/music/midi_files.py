"""MIDI files to compare: one part of ours, and the engraver's own of the same music."""

from exercises.music.engraver import check_musicxml, toolkit
from exercises.music.midi_out import score_to_midi
from exercises.music.part import Part


def part_to_midi(part: Part, *, tempo: int, title: str = "") -> bytes:
    """One line of one instrument. `tempo` in quarter notes a minute."""
    return score_to_midi([[part]], tempos=[tempo], title=title)


def render_midi(musicxml: str) -> str:
    """verovio's own MIDI file of the music, base64: an outside check of sounding pitch."""
    check_musicxml(musicxml)
    player = toolkit()
    assert player.loadData(musicxml)
    midi: str = player.renderToMIDI()
    return midi
