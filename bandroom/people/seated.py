"""The band as a page draws it: the chairs of `seating` with the students on them."""

from collections.abc import Sequence
from dataclasses import dataclass

from bandroom.people.seating import Chair, ChairName, Label, Seating, SectionSeats, chair_name, seat_places


@dataclass(frozen=True, slots=True)
class SeatedStudent:
    """`says` is all a seat tells those who hear the page: "Ilse Marsh, flute: waiting, Tuesday 7:42 pm"."""

    first_name: str
    says: str
    state: str  # a name of templatetags.look.SIGNS
    href: str
    is_now: bool = False

    @property
    def on_chair(self) -> ChairName:
        return chair_name(self.first_name)


@dataclass(frozen=True, slots=True)
class SeatedSection:
    """In the order they sit. A `count` ("16 of 20") stands under the name; `href` makes it a link."""

    name: str
    students: Sequence[SeatedStudent]
    count: str = ""
    href: str = ""
    is_now: bool = False


@dataclass(frozen=True, slots=True)
class Drawing:
    seating: Seating
    labels: tuple[tuple[Label, SeatedSection], ...]
    seats: tuple[tuple[Chair, SeatedStudent], ...]
    risers: tuple[tuple[str, bool], ...]  # path data, and whether its section has the light


def drawing_of(sections: Sequence[SeatedSection]) -> Drawing:
    seating = seat_places([SectionSeats(section.name, len(section.students)) for section in sections])
    return Drawing(
        seating=seating,
        labels=tuple((label, sections[label.section]) for label in seating.labels),
        seats=tuple((place, sections[place.section].students[place.seat]) for place in seating.places),
        risers=tuple((riser.path, sections[riser.section].is_now) for riser in seating.risers),
    )
