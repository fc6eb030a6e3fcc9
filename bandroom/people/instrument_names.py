"""Which instrument does a word in a class list mean?

The table holds the names, abbreviations and spellings that American band rosters use; common practice, no
source.
"""

import difflib
import re
import unicodedata

from bandroom.people.instruments import TABS, Instrument

ALIASES: dict[Instrument, tuple[str, ...]] = {
    Instrument.FLUTE: ("flutes", "fl", "flt", "c flute"),
    Instrument.OBOE: ("oboes", "ob"),
    Instrument.BASSOON: ("bassoons", "bsn", "bn", "bssn"),
    Instrument.CLARINET: ("clarinet", "clarinets", "cl", "clar", "b flat clarinet", "bb clarinet"),
    Instrument.BASS_CLARINET: ("bass clarinets", "bass clar", "bass cl", "bcl", "b cl"),
    Instrument.ALTO_SAX: (
        *("alto", "altos", "alto saxophone", "alto saxophones", "alto saxes", "asx", "as", "a sax", "asax"),
        *("eb alto sax", "e flat alto sax", "eb alto saxophone"),
    ),
    Instrument.TENOR_SAX: (
        *(
            "tenor",
            "tenors",
            "tenor saxophone",
            "tenor saxophones",
            "tenor saxes",
            "tsx",
            "ts",
            "t sax",
            "tsax",
        ),
        *("bb tenor sax", "b flat tenor sax"),
    ),
    Instrument.BARI_SAX: (
        *("bari", "baris", "baritone sax", "baritone saxophone", "bari saxophone", "bari saxes", "bsx", "bs"),
        *("b sax", "bsax", "eb baritone sax", "eb bari sax"),
    ),
    Instrument.TRUMPET: (
        *("trumpets", "tpt", "trp", "tp", "trpt", "cornet", "cornets", "bb trumpet", "b flat trumpet"),
    ),
    Instrument.HORN: (
        *("horns", "french horn", "french horns", "f horn", "horn in f", "hn", "hrn", "fh", "f hn"),
    ),
    Instrument.TROMBONE: ("trombones", "tbn", "trb", "trom", "bone", "bones", "tenor trombone"),
    Instrument.BARITONE_BC: (
        *("baritone", "baritones", "bar", "euphonium", "euphoniums", "euph", "baritone horn", "bari bc"),
        *(
            "baritone bc",
            "baritone b c",
            "euphonium bc",
            "euphonium bass clef",
            "baritone bass clef",
            "euph bc",
        ),
        *("bar bc",),
    ),
    Instrument.BARITONE_TC: (
        *("baritone tc", "baritone t c", "euphonium tc", "euphonium treble clef", "baritone treble clef"),
        *("euph tc", "bar tc", "bari tc"),
    ),
    Instrument.TUBA: ("tubas", "tu", "tba", "sousaphone", "sousa", "bb tuba"),
    Instrument.BELLS: (
        *("bell", "glockenspiel", "glock", "orchestra bells", "bell kit", "bell set", "mallets", "mallet"),
        *("mallet percussion",),
    ),
    Instrument.XYLOPHONE: ("xylo", "xyl", "xylophones"),
    Instrument.SNARE: ("snare", "snare drum", "drum", "drums", "sd", "drum pad", "practice pad"),
}
# Words that could mean more than one: never taken as read, only suggested.
LIKELY = {
    "percussion": Instrument.BELLS,
    "perc": Instrument.BELLS,
    "sax": Instrument.ALTO_SAX,
    "saxes": Instrument.ALTO_SAX,
    "saxophone": Instrument.ALTO_SAX,
    "saxophones": Instrument.ALTO_SAX,
    "piccolo": Instrument.FLUTE,
}
# A spelling is suggested from this likeness on (difflib's ratio, 1 is the same).
ALIKE = 0.72
# Shorter words are too like each other to guess: "bs", "ts".
SHORTEST_GUESS = 4


def plain_words(text: str) -> str:
    """Small letters, one space between words, no dots and signs: "E♭ Alto-Sax." is "eb alto sax"."""
    text = unicodedata.normalize("NFKC", text).casefold().replace("♭", "b").replace("♯", "#")
    # "clarinet 2", "2nd clarinet", "trumpet III": which part of the section says nothing about the instrument
    text = re.sub(r"\b(1st|2nd|3rd|4th|first|second|third)\b|\b(i{1,3}|[1-4])\b", " ", text)
    return " ".join(re.findall(r"[a-z]+", text))


def _table() -> dict[str, Instrument]:
    table = {}
    for instrument in Instrument:
        names = (instrument.value.replace("_", " "), instrument.label, TABS[instrument], *ALIASES[instrument])
        for name in names:
            table[plain_words(name)] = instrument
    return table


MEANINGS = _table()


def instrument_of(text: str) -> Instrument | None:
    """The instrument that `text` names, None if it names none we know."""
    return MEANINGS.get(plain_words(text))


def suggested_instrument(text: str) -> Instrument | None:
    """The instrument that an unclear or misspelled name most likely means, None if it is like none."""
    words = plain_words(text)
    if words in LIKELY:
        return LIKELY[words]
    if len(words) < SHORTEST_GUESS:
        return None
    known = LIKELY | MEANINGS
    close = difflib.get_close_matches(words, known, n=1, cutoff=ALIKE)
    return known[close[0]] if close else None
