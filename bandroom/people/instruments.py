"""The instruments a seat can have: ids and names, for rosters and forms.

What each instrument reads and can play is the music engine's knowledge, under the same ids.
"""

from django.db import models
from django.utils.translation import gettext, gettext_noop


class Instrument(models.TextChoices):
    """In score order, as a director lists the band."""

    FLUTE = "flute", gettext_noop("Flute")
    OBOE = "oboe", gettext_noop("Oboe")
    BASSOON = "bassoon", gettext_noop("Bassoon")
    CLARINET = "clarinet", gettext_noop("B♭ clarinet")
    BASS_CLARINET = "bass_clarinet", gettext_noop("Bass clarinet")
    ALTO_SAX = "alto_sax", gettext_noop("Alto sax")
    TENOR_SAX = "tenor_sax", gettext_noop("Tenor sax")
    BARI_SAX = "bari_sax", gettext_noop("Bari sax")
    TRUMPET = "trumpet", gettext_noop("Trumpet")
    HORN = "horn", gettext_noop("Horn")
    TROMBONE = "trombone", gettext_noop("Trombone")
    BARITONE_BC = "baritone_bc", gettext_noop("Baritone (bass clef)")
    BARITONE_TC = "baritone_tc", gettext_noop("Baritone (treble clef)")
    TUBA = "tuba", gettext_noop("Tuba")
    BELLS = "bells", gettext_noop("Bells")
    XYLOPHONE = "xylophone", gettext_noop("Xylophone")
    SNARE = "snare", gettext_noop("Snare drum")

    @property
    def local_name(self) -> str:
        """The label in the language of the page; `label` itself is English, as in rosters and records."""
        return gettext(self.label)

    @property
    def is_pitched(self) -> bool:
        return self is not Instrument.SNARE

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
