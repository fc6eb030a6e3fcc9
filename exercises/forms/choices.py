"""Keys, metres and instruments as the boxes of a form offer them."""

from collections.abc import Sequence

from bandroom.people.instruments import Instrument
from exercises.music.instruments import INSTRUMENTS
from exercises.music.keys import MOST_FIFTHS, key_words, tonic
from exercises.music.patterns import BEGINNER_KEYS
from exercises.music.score import Metre

#: Metres a beginning band meets, the usual ones first.
METRES = (
    Metre(4, 4),
    Metre(3, 4),
    Metre(2, 4),
    Metre(2, 2),
    Metre(6, 8),
    Metre(3, 8),
    Metre(5, 4),
    Metre(6, 4),
    Metre(3, 2),
    Metre(9, 8),
    Metre(12, 8),
)
METRE_CHOICES = tuple((str(metre), str(metre)) for metre in METRES)


def key_label(fifths: int) -> str:
    """ "B♭ major, 2 flats"."""
    return f"{tonic(fifths).printed_letter} major, {key_words(fifths).partition(':')[0]}"


def key_choices(fifths: Sequence[int]) -> list[tuple[int, str]]:
    return [(count, key_label(count)) for count in fifths]


ALL_KEYS = (
    *BEGINNER_KEYS,
    *sorted(set(range(-MOST_FIFTHS, MOST_FIFTHS + 1)) - set(BEGINNER_KEYS), key=lambda n: (abs(n), n)),
)


def in_a_sentence(instrument: str) -> str:
    """ "alto sax", "B♭ clarinet": the name as it stands inside a sentence."""
    name = Instrument(instrument).label
    return name if name[1] == "♭" else name[0].lower() + name[1:]


#: Whose notes these are, as typed or as a file has them.
CONCERT = "concert"
WRITTEN_FOR_CHOICES = (
    (CONCERT, "concert pitch"),
    *(
        (player.id, f"as written for {in_a_sentence(player.id)}")
        for player in INSTRUMENTS.values()
        if player.pitched
    ),
)
INSTRUMENT_CHOICES = tuple(Instrument.choices)


def player_of(choice: str) -> str:
    """The instrument that was chosen, "" for concert pitch."""
    return "" if choice == CONCERT else choice
