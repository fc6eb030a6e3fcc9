"""The desk's pages: the roster, and one student at a time."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from bandroom.people.access import signed_in
from exercises.pages.seat_ranges import out_of_reach
from submissions.grading import stand
from submissions.grading.views.opening import Desk, open_desk
from submissions.turn_ins import seating
from submissions.turn_ins.filters import StateGroup, View, chosen, next_to_open, one_before
from submissions.turn_ins.queries import begun, row_or_404
from submissions.turn_ins.roster import RosterRow
from submissions.working.steps.strip import hint

#: A longer list makes a page that a school's old laptop is slow to draw.
MOST_LISTED_AT_ONCE = 300
#: What an ear can say: as it is sent, as it is shown, and its key.
EARS = (
    ("as_written", "as written", "W"),
    ("other_pitch", "other pitch", "P"),
    ("not_heard", "not heard", "N"),
)


@require_safe
@signed_in
def desk(request: HttpRequest, pk: int) -> HttpResponse:
    """Everybody the assignment was posted to, as the band sits or as a list."""
    opened = open_desk(request, pk)
    students = _students(opened)
    rows = chosen(opened.rows, opened.choice, ears=opened.ears)
    # under the seats stands who waits; the list, and a chosen state, show all of theirs
    only_waiting = opened.choice.view is View.SEATS and opened.choice.state is None
    listed = [students[row.seat.pk] for row in rows if row.standing.needs_marking or not only_waiting]
    drawn = seating.band_in_seats(list(students.values()), choice=opened.choice, address=opened.address)
    whole = opened.choice.narrows or len(opened.rows) <= MOST_LISTED_AT_ONCE
    if not whole:  # the class period in the arcs stands in the list as well; the switch goes to the others
        listed = [student for student in listed if student.row.seat.section.period == drawn.period]
    first = next_to_open(opened.rows, opened.choice, ears=opened.ears)
    context = _context(opened) | {
        "seating": drawn,
        "listed_period": "" if whole else drawn.period,
        "sections": seating.by_section(listed) if not opened.ears else (),
        "listed": listed,
        "first": first,
        "first_href": opened.address_of(first) if first else "",
        "waiting": sum(row.standing.needs_marking for row in rows),
        "section_choices": _sections(opened),
        "instrument_choices": _instruments(opened),
        "groups": list(StateGroup),
    }
    return render(request, "submissions/grading/desk.html", context)


@require_safe
@signed_in
def desk_seat(request: HttpRequest, pk: int, seat: int) -> HttpResponse:
    """One student: both lines with their marks, and the note that goes back."""
    return seat_page(request, open_desk(request, pk), seat)


def seat_page(
    request: HttpRequest,
    opened: Desk,
    seat: int,
    *,
    problem: str = "",
    unmarked: bool = False,
    keep: bool = False,
    status: int = 200,
) -> HttpResponse:
    """The page of one student; with `keep` it shows what was posted, so that a refusal loses nothing."""
    row = row_or_404(opened.rows, seat=seat)
    takes = {label: request.GET.get(f"take-{label}", "") for label in opened.assignment.lines}
    following = next_to_open(opened.rows, opened.choice, after=seat, ears=opened.ears)
    back = one_before(opened.rows, opened.choice, seat=seat, ears=opened.ears)
    shown = stand.stand_of(
        row=row,
        assignment=opened.assignment,
        choice_of_takes=takes,
        posted=request.POST.dict() if keep else None,
    )
    context = _heard_context(opened, row) | {
        "stand": shown,
        "seating": seating.band_in_seats(
            list(_students(opened, now=row).values()),
            choice=opened.choice,
            address=opened.address,
            now=row,
        ),
        "next": following,
        "next_href": opened.address_of(following) if following else "",
        "back": back,
        "back_href": opened.address_of(back) if back else "",
        "times": stand.both_times(row, opened.assignment.band),
        "problem": problem,
        "steps_hint": hint(assignment=opened.assignment, seat=row.seat, band=opened.assignment.band),
        "note_fields": note_fields(shown),
        "out_of_reach": out_of_reach(lines=[line.line for line in shown.lines], seat=row.seat),
        "ask_unmarked": unmarked,
    }
    return render(request, "submissions/grading/seat.html", context, status=status)


@require_safe
@signed_in
def desk_line(request: HttpRequest, pk: int, seat: int, line: str) -> HttpResponse:
    """What was heard in one line, for a page that is already open: when it is done, or an ear spoke."""
    opened = open_desk(request, pk)
    row = row_or_404(opened.rows, seat=seat)
    now = request.GET.get("note", "")
    shown = stand.line_of(
        row=row,
        assignment=opened.assignment,
        label=line,
        wanted=request.GET.get("take", ""),
        now=int(now) if now.isascii() and now.isdecimal() and len(now) < 4 else None,
    )
    if shown is None:
        raise Http404
    context = _heard_context(opened, row) | {"line": shown}
    return render(request, "submissions/grading/_heard.html", context)


def _context(opened: Desk) -> dict[str, object]:
    return {
        "assignment": opened.assignment,
        "band": opened.assignment.band,
        "choice": opened.choice,
        "query": opened.choice.query(),
        "address": opened.address,
        "seats_href": opened.address + opened.choice.query(view=View.SEATS),
        "list_href": opened.address + opened.choice.query(view=View.LIST),
        "total": len(opened.rows),
        "at": opened.at,
    }


def _heard_context(opened: Desk, row: RosterRow) -> dict[str, object]:
    ear = reverse("submissions:desk-ear", args=[opened.assignment.pk, row.seat.pk])
    return _context(opened) | {"row": row, "ears": EARS, "ear_url": ear + opened.choice.query()}


def note_fields(shown: stand.Stand) -> list[tuple[object, str, str, str, str]]:
    """Phrases, name, id, label and text of the two parts of a note."""
    return [
        (shown.phrases["worked"], "worked", "worked", "One thing that worked", shown.note.worked),
        (shown.phrases["next_step"], "next_step", "next-step", "Next step", shown.note.next_step),
    ]


def _students(opened: Desk, *, now: RosterRow | None = None) -> dict[int, seating.Seated]:
    """Everybody by seat, as they sit."""
    seated = seating.seated(
        opened.rows,
        assignment=opened.assignment,
        choice=opened.choice,
        begun=begun(assignment=opened.assignment),
        ears=opened.ears,
        now=now.seat.pk if now else None,
    )
    return {student.row.seat.pk: student for student in seated}


def _sections(opened: Desk) -> list[tuple[int, str]]:
    sections = {row.seat.section_id: str(row.seat.section) for row in opened.rows}
    return list(sections.items())


def _instruments(opened: Desk) -> list[tuple[str, str]]:
    found = dict.fromkeys(row.seat.instrument for row in opened.rows)
    return [(name, seating.INSTRUMENT_NAMES[name]) for name in found]
