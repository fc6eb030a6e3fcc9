"""Larkmere Middle School: its band, sections, staff and students. No such school, town or person exists."""

from collections.abc import Sequence
from dataclasses import dataclass

from bandroom.people.instruments import Instrument as I
from bandroom.people.models import RecordingPermission

BAND = "Sixth-Grade Band"
SCHOOL = "Larkmere Middle School"
TIME_ZONE = "America/Chicago"
WEEKS_BEFORE = 13
WEEKS_IN_YEAR = 40
DIRECTOR = ("Oriana", "Tesfai-Brandt", "tesfai-brandt@larkmere.example")
SUBSTITUTE = ("Ilario", "Quennell", "quennell@larkmere.example")
# Only for trying the demo on one machine; a real band's words are random and stored hashed.
STAFF_PASSWORD = "eleven brass buttons"  # noqa: S105
STUDENT_PASSPHRASE = "maple river drum"  # noqa: S105


@dataclass(frozen=True, slots=True)
class DemoStudent:
    first: str
    last: str
    instrument: I
    recording: RecordingPermission = RecordingPermission.GRANTED


def _all(instrument: I, names: str) -> tuple[DemoStudent, ...]:
    """Students of one instrument from "First Last, First Last"."""
    split = (name.strip().split(" ", 1) for name in names.split(","))
    return tuple(DemoStudent(first, last, instrument) for first, last in split)


PENDING = RecordingPermission.PENDING

# Section name, class period, students in score order.
SECTIONS: Sequence[tuple[str, str, tuple[DemoStudent, ...]]] = (
    (
        "Flutes",
        "2",
        _all(
            I.FLUTE,
            "Amaru Villeneuve, Odalys Prakash, Wren Castellane, Lucian Abara, Hana Oyelaran,"
            "Beatriz Kowalczuk, Noor Halvorsen, Teo Ashkenazi",
        ),
    ),
    (
        "Double reeds",
        "2",
        (
            *_all(I.OBOE, "Solveig Adeyemi-Park, Elodie Marchetti"),
            *_all(I.BASSOON, "Tobias Rangihau, Corentin Mwangi"),
        ),
    ),
    (
        "Clarinets",
        "2",
        (
            *_all(
                I.CLARINET,
                "Nayeli Strandberg, Bashir Holloway, Freya Nakamura, Tobiah Lindqvist, Imani Okafor-Reyes,"
                "Anouk Delacroix, Yusuf Bergstrom, Maren Quispe, Dele Fontaine, Kirra Szabo",
            ),
            *_all(I.BASS_CLARINET, "Ioana Okwuosa, Halvard Nunez"),
        ),
    ),
    (
        "Saxophones",
        "2",
        (
            *_all(
                I.ALTO_SAX,
                "Kaveh Lindqvist, Marisol Vance, Jun-ho Petrakis, Saoirse Whitlock,"
                "Pilar Mbeki, Emeka Johansen",
            ),
            *_all(I.TENOR_SAX, "Priyanka Moreau, Levi Tanaka"),
            *_all(I.BARI_SAX, "Dov Castellanos"),
        ),
    ),
    (
        "Trumpets",
        "5",
        _all(
            I.TRUMPET,
            "Zuri Hallgrimsdottir, Hollis Tremaine, Mei Okonkwo, Santiago Ferrer, Ayla Novak, Kwame Iversen,"
            "Rosalind Tran, Ezra Ibarra",
        ),
    ),
    ("Horns", "5", _all(I.HORN, "Matteo Nakagawa-Reyes, Ingrid Bello, Arjun Sorensen, Lieke Baptiste")),
    (
        "Trombones",
        "5",
        _all(
            I.TROMBONE,
            "Eleni Boateng, Casimir Nguyen, Talia Mahmoud, Oskar Rivera, Jamila Penrose, Ruben Haugland",
        ),
    ),
    (
        "Baritones and tubas",
        "5",
        (
            *_all(I.BARITONE_BC, "Rafael Tuiasosopo-Wren, Signe Achterberg"),
            *_all(I.BARITONE_TC, "Amina Lofgren"),
            *_all(I.TUBA, "Gideon Petrov-Salas, Naomi Kealoha"),
        ),
    ),
    (
        "Percussion",
        "5",
        (
            *_all(I.BELLS, "Safiya Blackwood, Lars Dhillon, Xiomara Frey"),
            DemoStudent("Malik", "Svensson", I.BELLS, PENDING),
            *_all(I.BELLS, "Ada Toivonen"),
        ),
    ),
)

# Came from trumpet to baritone (treble clef) in the middle of the year; the old seat keeps its history.
CHANGED = DemoStudent("Linh", "Abernathy", I.BARITONE_TC)
CHANGED_FROM = ("Trumpets", I.TRUMPET)
CHANGED_TO = "Baritones and tubas"

# Who to sign in as, beside the staff: something due, something that came back, a new instrument.
TRY_AS = ("Nayeli Strandberg", "Kaveh Lindqvist", "Linh Abernathy")
