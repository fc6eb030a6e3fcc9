"""Which places did most of a section miss, and which misreading do most of its players share?"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from exercises.music.pitch import Pitch
from exercises.music.score import Line
from submissions.listening.evidence import Cause
from submissions.section_misses.causes import MISREADINGS, Likely, cause_of, likely_at, printed_score
from submissions.section_misses.misses import SHARED_FROM, MissKind, NoteMisses, SectionMisses, Struck

MOST_PLACES = 3
#: What is wrong in the same way on the same note is one thing to teach, wherever the note stands.
SAME_EVERYWHERE = frozenset({Cause.KEY_FORGOTTEN, Cause.NEIGHBOUR_NOTE, Cause.ADDED_SIGN, Cause.OTHER_OCTAVE})


@dataclass(frozen=True, slots=True)
class MissedPlace:
    """One of the most shared places, `rank` from 1. `also` are further notes missed in the very same way."""

    rank: int
    misses: NoteMisses
    likely: Likely
    also: tuple[NoteMisses, ...] = ()

    @property
    def notes(self) -> tuple[int, ...]:
        return (self.misses.note.number, *(misses.note.number for misses in self.also))


@dataclass(frozen=True, slots=True)
class Shared:
    """The misreading that most players share: how many do, and the bar where most of it happened."""

    cause: Cause
    players: int
    bar: int


def places_of(counted: SectionMisses, *, line: Line, notes: Sequence[Struck]) -> tuple[MissedPlace, ...]:
    """The most missed first, of equals the one missed alike by more, then the earlier; nobody's own slips."""
    score = printed_score(line, notes)
    missed = [misses for misses in counted.notes if misses.missed >= SHARED_FROM]
    missed.sort(key=lambda misses: (-misses.missed, -misses.same, misses.note.number))
    grouped: dict[tuple[object, ...], list[tuple[NoteMisses, Likely]]] = defaultdict(list)
    for misses in missed:
        likely = likely_at(misses, line=line, score=score, notes=notes)
        grouped[_way(misses, likely)].append((misses, likely))
    found = list(grouped.values())[:MOST_PLACES]
    return tuple(
        MissedPlace(rank, ways[0][0], ways[0][1], _in_order(misses for misses, _ in ways[1:]))
        for rank, ways in enumerate(found, 1)
    )


def shared_misreading(counted: SectionMisses, *, line: Line, notes: Sequence[Struck]) -> Shared | None:
    """By players, not by notes: who misreads ten notes in one way is one player. None where nobody agrees."""
    score = printed_score(line, notes)
    players: dict[Cause, set[int]] = defaultdict(set)
    bars: dict[Cause, Counter[int]] = defaultdict(Counter)
    for player, slips in enumerate(counted.players):
        for note, slip in zip(notes, slips, strict=True):
            if slip is None or slip.kind is not MissKind.OTHER or slip.midi is None:
                continue
            cause = cause_of(note, slip.midi, name=slip.name, line=line, score=score, notes=notes).cause
            players[cause].add(player)
            bars[cause][note.ref.bar] += 1
    reading = [cause for cause in players if cause in MISREADINGS and len(players[cause]) >= SHARED_FROM]
    if not reading:
        return None
    most = max(reading, key=lambda cause: (len(players[cause]), bars[cause].total(), cause.value))
    return Shared(most, len(players[most]), max(bars[most], key=lambda bar: (bars[most][bar], -bar)))


def _way(misses: NoteMisses, likely: Likely) -> tuple[object, ...]:
    if likely.cause in SAME_EVERYWHERE:
        return likely.cause, _letter(misses.note.pitch), _letter(likely.read_as)
    return (misses.note.number,)


def _letter(pitch: Pitch | None) -> str:
    return pitch.printed_letter if pitch else ""


def _in_order(counted: Iterable[NoteMisses]) -> tuple[NoteMisses, ...]:
    return tuple(sorted(counted, key=lambda misses: misses.note.number))
