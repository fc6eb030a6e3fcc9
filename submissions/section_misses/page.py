"""Which line of which section is shown with its misses, and the plain links to the others."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from exercises.models import ExerciseLine
from exercises.music.errors import MusicError
from submissions.models import Assignment
from submissions.section_misses.groups import PlayerGroup, group_shown, groups_of
from submissions.section_misses.picture import SectionPicture, picture_of
from submissions.section_misses.queries import evidence_of, seats_heard
from submissions.turn_ins.queries import lines_of
from submissions.turn_ins.roster import RosterRow

#: On the board a class sees it: of fewer players everybody would know whose slip it is.
FEWEST_ON_BOARD = 3


@dataclass(frozen=True, slots=True)
class Choice:
    """A plain link to another line or group."""

    words: str
    href: str
    is_now: bool


@dataclass(frozen=True, slots=True)
class MissesPage:
    """`picture` is None where there is nothing to draw; then `nothing` or `problem` says why."""

    line: ExerciseLine
    group: PlayerGroup | None
    lines: tuple[Choice, ...]
    groups: tuple[Choice, ...]
    query: str
    picture: SectionPicture | None
    nothing: str
    problem: str


def misses_page(
    *, assignment: Assignment, rows: Sequence[RosterRow], wanted: Mapping[str, str], on_board: bool = False
) -> MissesPage | None:
    """`wanted`: line, section and instrument of an address; what it cannot mean is left out.

    Without a choice: the line and the group of which most was heard. None where no line was asked for.
    """
    lines = [line for line in lines_of(assignment=assignment) if line.label in assignment.lines]
    if not lines:
        return None
    by_line, groups = seats_heard(assignment=assignment), groups_of(rows)
    line = _line_shown(lines, by_line, wanted.get("line", ""))
    in_line = by_line.get(line.label, frozenset())
    group = group_shown(groups, heard=in_line, wanted=wanted)
    picture, problem = None, ""
    nothing = _nothing(line, group, in_line, on_board=on_board)
    if group is not None and not nothing:
        takes = evidence_of(assignment=assignment, line=line.label, seats=group.seats & in_line)
        try:
            picture = picture_of(
                line=line, group=group, takes=takes, fewest=FEWEST_ON_BOARD if on_board else 1
            )
        except MusicError as error:
            problem = error.message
    return MissesPage(
        line=line,
        group=group,
        lines=tuple(Choice(f"Line {other.label}", _query(other, group), other is line) for other in lines),
        groups=tuple(
            Choice(
                f"{other.name}, {len(other.seats & in_line)} of {other.expected} heard",
                _query(line, other),
                other is group,
            )
            for other in groups
        ),
        query=_query(line, group),
        picture=picture,
        nothing=nothing,
        problem=problem,
    )


def _nothing(line: ExerciseLine, group: PlayerGroup | None, heard: frozenset[int], *, on_board: bool) -> str:
    """One sentence in place of the picture. On the board the bare part is worth showing by itself."""
    if group is None:
        return "Nobody plays this yet: it was posted to no section with students in it."
    if on_board or group.seats & heard:
        return ""
    return (
        f"Nobody in {group.name} has been heard on line {line.label} yet. "
        "This fills in by itself as takes come in and are listened to."
    )


def _line_shown(
    lines: Sequence[ExerciseLine], heard: Mapping[str, frozenset[int]], wanted: str
) -> ExerciseLine:
    """Of two lines heard alike the later: it holds what the earlier one prepared."""
    for line in lines:
        if line.label == wanted:
            return line
    return max(reversed(lines), key=lambda line: len(heard.get(line.label, ())))


def _query(line: ExerciseLine, group: PlayerGroup | None) -> str:
    asked = {"line": line.label}
    if group is not None:
        asked["section"] = str(group.section.pk)
        if not group.is_alone:
            asked["instrument"] = group.instrument
    return f"?{urlencode(asked)}"
