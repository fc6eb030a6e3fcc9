"""What is inside a MusicXML file? Its measures, part by part, plain or compressed.

The file is not trusted: no document type declares entities, nothing is fetched, compressed files have limits.
"""

import io
import lzma
import struct
import zipfile
import zlib

from lxml import etree

from exercises.music.errors import MusicError
from exercises.music.incoming import check_size

#: Limits of a compressed file: how much it may unfold to, and how many files it may hold.
MOST_UNPACKED_BYTES = 8_000_000
MOST_FILES = 50
#: Parts of a whole band's score.
MOST_PARTS = 60

#: What a damaged compressed file makes the standard library raise.
_BROKEN_BOX = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
    EOFError,
    KeyError,
    NotImplementedError,
    OSError,
    OverflowError,
    RuntimeError,
    ValueError,
)

BROKEN = "This file is not MusicXML that can be read: save it again as MusicXML and send that."


def measures_of_parts(data: bytes) -> list[list[etree._Element]]:
    """For each part its `<measure>` elements, also from a file ordered by measure.

    Raises MusicError for bytes that are no MusicXML, or too much of it.
    """
    check_size(data)
    root = _parse(_unpacked(data) if data[:4] == b"PK\x03\x04" else data)
    parts = _parts(root)
    if len(parts) > MOST_PARTS:
        raise MusicError("This file has too many parts for one exercise: send only the parts you need.")
    return parts


def _parse(data: bytes) -> etree._Element:
    if b"<!ENTITY" in data.replace(b"\x00", b"").upper():
        raise MusicError("This file declares entities, which music never needs: it is refused.")
    root = _tree(data)
    if root.tag not in ("score-partwise", "score-timewise"):
        raise MusicError(BROKEN)
    return root


def _tree(data: bytes) -> etree._Element:
    parser = etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
    )
    try:
        return etree.fromstring(data, parser)
    except (etree.XMLSyntaxError, ValueError) as error:
        raise MusicError(BROKEN) from error


def _unpacked(data: bytes) -> bytes:
    """The score inside a compressed file."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as box:
            names = box.namelist()
            if len(names) > MOST_FILES:
                raise MusicError(
                    "This compressed file holds too many files: save the music again as .musicxml."
                )
            return _unzip(box, _score_name(box, names))
    except MusicError:
        raise
    except _BROKEN_BOX as error:
        raise MusicError(BROKEN) from error


def _score_name(box: zipfile.ZipFile, names: list[str]) -> str:
    if "META-INF/container.xml" in names:
        container = _tree(_unzip(box, "META-INF/container.xml"))
        for rootfile in container.iter("{*}rootfile"):
            if rootfile.get("full-path"):
                return str(rootfile.get("full-path"))
    for name in names:
        if name.endswith((".xml", ".musicxml")) and not name.startswith("META-INF"):
            return name
    raise MusicError(BROKEN)


def _unzip(box: zipfile.ZipFile, name: str) -> bytes:
    """One file of the box, never more than the limit, whatever its header claims.

    Stored and deflated alone, as the format has it (MusicXML 4.0, compressed files): other methods can
    unfold a few bytes to gigabytes before the first of them is handed out.
    """
    if box.getinfo(name).compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise MusicError(
            "This compressed file is packed in an unusual way: save the music again as .musicxml."
        )
    with box.open(name) as packed:
        data = packed.read(MOST_UNPACKED_BYTES + 1)
    if len(data) > MOST_UNPACKED_BYTES:
        raise MusicError("This compressed file unfolds to too much: save the music again as .musicxml.")
    return data


def _parts(root: etree._Element) -> list[list[etree._Element]]:
    if root.tag == "score-partwise":
        return [part.findall("measure") for part in root.findall("part")]
    parts: dict[str, list[etree._Element]] = {}
    for measure in root.findall("measure"):
        for part in measure.findall("part"):
            parts.setdefault(part.get("id") or "", []).append(part)
    return list(parts.values())
