"""What did a section miss? Under each printed note, how many players did not play it as written.

Pure: no database, no markup. Each player's evidence is of the take that counts; the director's ear goes
before it. An unsure note is never counted as missed: it is kept beside the count, to be
listened to. Players are only counted here, never named.
"""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from exercises.music.pitch import Pitch
from exercises.music.reading import NoteReading
from exercises.music.score import Line, NoteRef
from submissions.listening.evidence import SAME_LINE, Evidence, NoteHeard, Quality, Verdict

#: So many players make "most shared": one player's slip is nobody else's.
SHARED_FROM = 2
#: Takes in which there is nothing to compare with the part.
NO_PLAYING = frozenset({Quality.SILENT, Quality.NOBODY_PLAYS, Quality.ONLY_CLICKS, Quality.ONLY_SPEECH})


@dataclass(frozen=True, slots=True)
class Struck:
    """One note that is started. `first` and `last` are its places on the page, rests and ties counted."""

    number: int
    first: int
    last: int
    ref: NoteRef
    pitch: Pitch | None  # as written; None for a drum stroke
    reading: NoteReading

    @property
    def name(self) -> str:
        """As said in class, "B flat"; "the stroke" on a drum."""
        return self.pitch.spoken if self.pitch else "the stroke"


class MissKind(StrEnum):
    OTHER = "other"
    NOT_HEARD = "not_heard"
    UNSURE = "unsure"


@dataclass(frozen=True, slots=True)
class Slip:
    """One player at one note that was not heard as written. `midi` is the written pitch of what sounded."""

    kind: MissKind
    midi: int | None = None
    name: str | None = None  # in the student's own letters, "F#4"


@dataclass(frozen=True, slots=True)
class NoteMisses:
    """One note with the players under it.

    same       players of the other pitch that most share, 0 where no two share one
    played     that pitch, written; `played_name` is the listener's name of it
    different  players of any further pitch
    """

    note: Struck
    same: int = 0
    played: int | None = None
    played_name: str | None = None
    different: int = 0
    not_heard: int = 0
    unsure: int = 0

    @property
    def missed(self) -> int:
        return self.same + self.different + self.not_heard


@dataclass(frozen=True, slots=True)
class SectionMisses:
    """A section's line. `players` holds each compared player's slips, for what they have in common."""

    notes: tuple[NoteMisses, ...]
    players: tuple[tuple[Slip | None, ...], ...]
    left_out: int
    stopped: int

    @property
    def heard(self) -> int:
        """Players whose take could be compared with the part."""
        return len(self.players)

    @property
    def most(self) -> int:
        """Players under the note most missed, unsure ones included."""
        return max((misses.missed + misses.unsure for misses in self.notes), default=0)

    @property
    def is_clean(self) -> bool:
        return self.most == 0


def struck_notes(line: Line, readings: Sequence[NoteReading], *, pitched: bool) -> tuple[Struck, ...]:
    """The notes of a written line that are started: rests left out, tied notes joined."""
    found: list[Struck] = []
    for note, ref, tied_in, reading in zip(line.notes, line.refs(), line.tied_in(), readings, strict=True):
        if note.pitch is None:
            continue
        if tied_in and found:
            start = found[-1]
            found[-1] = Struck(start.number, start.first, ref.index, start.ref, start.pitch, start.reading)
            continue
        found.append(Struck(len(found), ref.index, ref.index, ref, note.pitch if pitched else None, reading))
    return tuple(found)


def misses_of(
    *,
    notes: Sequence[Struck],
    takes: Iterable[tuple[Evidence, Mapping[int, Verdict]]],
    semitones_to_sounding: int,
) -> SectionMisses:
    """`takes`: for each player the evidence of this line and the director's ear, by note."""
    players: list[tuple[Slip | None, ...]] = []
    left_out = stopped = 0
    for evidence, ear in takes:
        if not _compares(evidence, ear, count=len(notes)):
            left_out += 1
            continue
        reached = _reached(evidence, ear)
        stopped += reached < len(notes)
        players.append(
            tuple(
                _slip(heard, ear.get(note.number), note, semitones_to_sounding)
                if note.number < reached
                else None
                for note, heard in zip(notes, evidence.notes, strict=True)
            )
        )
    return SectionMisses(
        notes=tuple(_misses_at(note, [slips[note.number] for slips in players]) for note in notes),
        players=tuple(players),
        left_out=left_out,
        stopped=stopped,
    )


def _compares(evidence: Evidence, ear: Mapping[int, Verdict], *, count: int) -> bool:
    """Whether it says something of this part: not of another line, another instrument's, or of no playing."""
    if len(evidence.notes) != count or evidence.transposed_semitones:
        return False
    if not NO_PLAYING.isdisjoint(evidence.quality):
        return False
    if not evidence.other_line:
        return True
    # a line broken off in the middle has few notes as written, and is still this line
    reached = _reached(evidence, ear)
    right = sum(note.verdict is Verdict.AS_WRITTEN for note in evidence.notes[:reached])
    return reached < count and right >= SAME_LINE * max(1, reached)


def _reached(evidence: Evidence, ear: Mapping[int, Verdict]) -> int:
    """How many notes were come to: after a stop the rest was never read, so it was not misread."""
    reached = len(evidence.notes)
    while (
        evidence.stopped_early
        and reached
        and evidence.notes[reached - 1].verdict is Verdict.NOT_HEARD
        and reached - 1 not in ear
    ):
        reached -= 1
    return reached


def _slip(heard: NoteHeard, ear: Verdict | None, note: Struck, to_sounding: int) -> Slip | None:
    match ear or heard.verdict:
        case Verdict.AS_WRITTEN:
            return None
        case Verdict.NOT_HEARD:
            return Slip(MissKind.NOT_HEARD)
        case Verdict.UNSURE:
            return Slip(MissKind.UNSURE)
    midi = None if heard.heard_midi is None or note.pitch is None else heard.heard_midi - to_sounding
    if note.pitch is not None and midi == note.pitch.midi:
        midi = None  # the ear heard another pitch than the listener, which one is not known
    return Slip(MissKind.OTHER, midi, heard.heard_written if midi is not None else None)


def _misses_at(note: Struck, slips: Sequence[Slip | None]) -> NoteMisses:
    found = [slip for slip in slips if slip is not None]
    others = [slip for slip in found if slip.kind is MissKind.OTHER]
    pitches = Counter(slip.midi for slip in others if slip.midi is not None)
    # of two that are shared alike the nearer one, so that the answer does not hang on who was heard first
    written = note.pitch.midi if note.pitch else 0
    played, same = min(
        pitches.items(), key=lambda item: (-item[1], abs(item[0] - written)), default=(None, 0)
    )
    if same < SHARED_FROM:
        played, same = None, 0
    names = Counter(slip.name for slip in others if played is not None and slip.midi == played and slip.name)
    return NoteMisses(
        note=note,
        same=same,
        played=played,
        played_name=names.most_common(1)[0][0] if names else None,
        different=len(others) - same,
        not_heard=sum(slip.kind is MissKind.NOT_HEARD for slip in found),
        unsure=sum(slip.kind is MissKind.UNSURE for slip in found),
    )
