"""The picture of one line of one section, drawn for desk and phone, and the same in words."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString

from exercises.drawing.two_screens import Screen, engraved_twice
from exercises.models import ExerciseLine
from exercises.music.engraving import Engraving, line_svg
from exercises.music.instruments import INSTRUMENTS
from exercises.music.reading import read_part
from exercises.parts import Layout, part_of
from submissions.listening.evidence import Evidence, Verdict
from submissions.section_misses import drawing, words
from submissions.section_misses.groups import PlayerGroup
from submissions.section_misses.misses import SectionMisses, misses_of, struck_notes
from submissions.section_misses.places import MissedPlace, places_of, shared_misreading

#: Room round a drawing that has nothing over or under it.
BARE = 6.0


@dataclass(frozen=True, slots=True)
class SharedPlace:
    """One of the most shared places in words."""

    rank: int
    title: str
    why: str
    tomorrow: str


@dataclass(frozen=True, slots=True)
class SectionPicture:
    """`counted` is None where too few were heard to show them; the part stands there all the same."""

    wide: SafeString
    narrow: SafeString
    heard: str
    counted: SectionMisses | None = None
    headline: str = ""
    places: tuple[SharedPlace, ...] = ()
    words: tuple[str, ...] = ()


def picture_of(
    *,
    line: ExerciseLine,
    group: PlayerGroup,
    takes: Iterable[tuple[Evidence, Mapping[int, Verdict]]],
    fewest: int,
) -> SectionPicture:
    """`takes`: evidence and the director's ear of each player. Roots are shown from `fewest` players on.

    Raises MusicError where the part cannot be drawn.
    """
    part = part_of(line=line, instrument=group.instrument)
    engraved = engraved_twice(line=line, instrument=group.instrument, layout=Layout.MARKING, prefix="roots")
    reader = INSTRUMENTS[group.instrument]
    notes = struck_notes(part.line, read_part(part), pitched=reader.pitched)
    counted = misses_of(
        notes=notes,
        takes=takes,
        semitones_to_sounding=reader.to_sounding.semitones if reader.pitched else 0,
    )
    heard = words.heard_so_far(counted, expected=group.expected)
    label = f"Line {line.label} for {group.name}"
    if counted.heard < fewest:
        bare = engraved.drawn(lambda engraving, screen: _svg(engraving, label=label, screen=screen))
        return SectionPicture(bare.wide, bare.narrow, heard)
    places = places_of(counted, line=part.line, notes=notes)
    shared = shared_misreading(counted, line=part.line, notes=notes)
    label += ", with how many missed each note; in words below"
    drawings = engraved.drawn(
        lambda engraving, screen: _svg(engraving, label=label, screen=screen, counted=counted, places=places)
    )
    return SectionPicture(
        wide=drawings.wide,
        narrow=drawings.narrow,
        heard=heard,
        counted=counted,
        headline=words.headline(shared, counted, line=part.line),
        places=tuple(
            SharedPlace(
                rank=place.rank,
                title=words.title(place, heard=counted.heard, line=part.line),
                why=words.why(place, line=part.line),
                tomorrow=words.tomorrow(place),
            )
            for place in places
        ),
        words=tuple(
            words.in_words(misses, line=part.line)
            for misses in counted.notes
            if misses.missed + misses.unsure
        ),
    )


def _svg(
    engraving: Engraving,
    *,
    label: str,
    screen: Screen,
    counted: SectionMisses | None = None,
    places: Sequence[MissedPlace] = (),
) -> str:
    return line_svg(
        engraving,
        overlay=drawing.overlay(engraving, counted=counted, places=places) if counted else "",
        label=label,
        css_class=screen.css_class,
        pad_top=drawing.above() if places else BARE,
        pad_bottom=BARE + (drawing.depth(engraving, counted) if counted else 0.0),
    )
