"""A compressed MusicXML file unfolds to no more than music needs, however it is packed."""

import io
import zipfile

import pytest

from exercises.music.errors import MusicError
from exercises.music.musicxml_in import read_musicxml

UNUSUAL = "This compressed file is packed in an unusual way: save the music again as .musicxml."


def packed(content: bytes, method: int) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", method) as box:
        box.writestr("score.xml", content)
    return out.getvalue()


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA], ids=["bzip2", "lzma"])
def test_a_few_bytes_that_unfold_to_gigabytes_are_refused_unread(method: int):
    """Forty megabytes of nothing in so few bytes; at the size of an upload it would be gigabytes."""
    small = packed(b" " * 40_000_000, method)
    assert len(small) < 10_000

    with pytest.raises(MusicError, match=UNUSUAL):
        read_musicxml(small)


def test_deflated_to_too_much_is_refused():
    with pytest.raises(MusicError, match="unfolds to too much"):
        read_musicxml(packed(b" " * 9_000_000, zipfile.ZIP_DEFLATED))
