"""The instruments a seat can have: ids and names, for rosters and forms.

What each instrument reads and can play is the music engine's knowledge, under the same ids.
"""

from django.db import models


class Instrument(models.TextChoices):
    """In score order, as a director lists the band."""

    FLUTE = "flute", "Flute"
    OBOE = "oboe", "Oboe"
    BASSOON = "bassoon", "Bassoon"
    CLARINET = "clarinet", "B♭ clarinet"
    BASS_CLARINET = "bass_clarinet", "Bass clarinet"
    ALTO_SAX = "alto_sax", "Alto sax"
    TENOR_SAX = "tenor_sax", "Tenor sax"
    BARI_SAX = "bari_sax", "Bari sax"
    TRUMPET = "trumpet", "Trumpet"
    HORN = "horn", "Horn"
    TROMBONE = "trombone", "Trombone"
    BARITONE_BC = "baritone_bc", "Baritone (bass clef)"
    BARITONE_TC = "baritone_tc", "Baritone (treble clef)"
    TUBA = "tuba", "Tuba"
    BELLS = "bells", "Bells"
    XYLOPHONE = "xylophone", "Xylophone"
    SNARE = "snare", "Snare drum"

    @property
    def tab(self) -> str:
        """As short as a slip's tab: "Cl", "T. sax"."""
        return TABS[self]


TABS = {
    Instrument.FLUTE: "Fl",
    Instrument.OBOE: "Ob",
    Instrument.BASSOON: "Bsn",
    Instrument.CLARINET: "Cl",
    Instrument.BASS_CLARINET: "B. cl",
    Instrument.ALTO_SAX: "A. sax",
    Instrument.TENOR_SAX: "T. sax",
    Instrument.BARI_SAX: "B. sax",
    Instrument.TRUMPET: "Tpt",
    Instrument.HORN: "Hn",
    Instrument.TROMBONE: "Tbn",
    Instrument.BARITONE_BC: "Bar",
    Instrument.BARITONE_TC: "Bar TC",
    Instrument.TUBA: "Tuba",
    Instrument.BELLS: "Bells",
    Instrument.XYLOPHONE: "Xyl",
    Instrument.SNARE: "Snare",
}
