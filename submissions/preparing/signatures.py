"""What kind of file is this, by its first bytes? By the formats' own definitions, named beside each.

A kind says only what the file claims to be; whether it can be played, decoding tells.
"""

#: So many bytes from the start are enough.
HEAD_BYTES = 16

_STARTS = (
    (b"\x1a\x45\xdf\xa3", "audio/webm"),  # EBML, RFC 8794, section 11.2.1
    (b"OggS", "audio/ogg"),  # RFC 3533, section 6
    (b"fLaC", "audio/flac"),  # RFC 9639, section 6
    (b"ID3", "audio/mpeg"),  # id3.org, ID3v2, section 3.1
    (b"#!AMR", "audio/amr"),  # RFC 4867, section 5.1
    (b"caff", "audio/x-caf"),  # Apple Core Audio Format, file header
    (b".snd", "audio/basic"),  # au: the audio(5) manual page
    (b"\x30\x26\xb2\x75\x8e\x66\xcf\x11", "audio/x-ms-wma"),  # ASF header object
)
#: Types of the first box of files of the mp4 family (ISO/IEC 14496-12, 4.2: size, then type).
_BOXES = frozenset({b"ftyp", b"moov", b"mdat", b"free", b"skip", b"wide", b"styp", b"moof"})


def kind_of(head: bytes) -> str | None:
    """The media type that the first bytes claim; None for what is no recording that is known here."""
    for start, kind in _STARTS:
        if head.startswith(start):
            return kind
    if head[:4] in {b"RIFF", b"RF64"} and head[8:12] in {b"WAVE", b"AVI "}:
        return "audio/wav"
    if head[:4] == b"FORM" and head[8:12] in {b"AIFF", b"AIFC"}:
        return "audio/aiff"
    if head[4:8] in _BOXES:
        return "audio/mp4"
    if len(head) > 1 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0:
        # MPEG audio (ISO/IEC 11172-3, 2.4.1.3); layer 0 is AAC in ADTS (ISO/IEC 13818-7, 6.2)
        return "audio/aac" if head[1] & 0x06 == 0 else "audio/mpeg"
    return None
