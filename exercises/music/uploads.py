"""Which reader does an uploaded file need? Told by its first bytes, never by its name.

music21 is imported only when a MIDI or ABC file comes in.
"""

from exercises.music.errors import MusicError
from exercises.music.incoming import ReadResult, check_size
from exercises.music.musicxml_in import read_musicxml


def read_upload(data: bytes, *, written_for: str | None = None) -> ReadResult:
    """Lines in concert pitch from a MusicXML, compressed MusicXML, MIDI or ABC file.

    `written_for` names the instrument whose part the file is; None means concert pitch. Raises MusicError.
    """
    check_size(data)
    start = data[:200].lstrip(b"\xef\xbb\xbf \t\r\n")
    if data[:4] == b"MThd":
        from exercises.music.midi_in import read_midi  # noqa: PLC0415 - music21 takes half a second to import

        return read_midi(data, written_for=written_for)
    if data[:4] == b"PK\x03\x04" or start[:1] == b"<" or data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return read_musicxml(data, written_for=written_for)
    if start[:2] in (b"X:", b"%a", b"%%", b"T:"):
        from exercises.music.abc_in import read_abc  # noqa: PLC0415 - music21 takes half a second to import

        return read_abc(data, written_for=written_for)
    raise MusicError("This file is not MusicXML, MIDI or ABC: export your music in one of these.")
