"""Posting, changing, copying and withdrawing: what is stored, what is refused, what stays."""

from datetime import UTC, date, datetime, timedelta

import pytest

from bandroom.people.models import Band
from exercises.models import ExerciseLine
from submissions.assigning import services
from submissions.assigning.deadlines import Window
from submissions.errors import Refused
from submissions.models import Booking, Mark, Posting, Routes, Slot, TurnIn
from submissions.turn_ins.policy import policy_of
from submissions.turn_ins.services import excuse, open_live
from submissions.turn_ins.standing import is_late
from tests import factories
from tests.submissions.assigning.rows import make_mark, make_take, make_turn_in

pytestmark = pytest.mark.django_db
WINDOW = Window(
    opens_at=datetime(2026, 10, 6, 20, 0, tzinfo=UTC),
    due_at=datetime(2026, 10, 9, 1, 0, tzinfo=UTC),
    closes_at=datetime(2026, 10, 12, 1, 0, tzinfo=UTC),
)


def later(window: Window, **moved: timedelta) -> Window:
    return Window(
        opens_at=window.opens_at + moved.get("opens", timedelta()),
        due_at=window.due_at + moved.get("due", timedelta()),
        closes_at=window.closes_at + moved.get("closes", timedelta()),
    )


@pytest.fixture
def rubric(band):
    return factories.make_rubric(band=band)


@pytest.fixture
def post(band, section, exercise, rubric, director, at):
    """Posts the plain exercise to the one section; a test says what is different."""

    def posted(**different):
        return services.post(
            **{
                "band": band,
                "exercise": exercise,
                "windows": {section: WINDOW},
                "rubric": rubric,
                "lines": ["A", "B"],
                "by": director.user,
                "at": at,
                **different,
            }
        )

    return posted


def edited(assignment, **different):
    return services.edit(
        **{
            "assignment": assignment,
            "windows": {p.section: services.window_of(p) for p in assignment.postings.all()},
            "rubric": assignment.rubric,
            "lines": assignment.lines,
            "routes": Routes(assignment.routes),
            "note": assignment.note,
            "tempos": assignment.tempos,
            **different,
        }
    )


# Posting ------------------------------------------------------------------------------------------


def test_a_posted_assignment_holds_what_was_decided(post, section, exercise, rubric, director, at):
    assignment = post(note="Mind the A flat.", routes=Routes.RECORDING, tempos={"A": 66, "B": 72})

    assignment.refresh_from_db()
    assert (assignment.number, assignment.exercise, assignment.rubric) == (1, exercise, rubric)
    assert (assignment.lines, assignment.routes, assignment.note) == (
        ["A", "B"],
        "recording",
        "Mind the A flat.",
    )
    assert assignment.tempos == {"A": 66}  # line B keeps the exercise's own 72
    assert (assignment.created_by, assignment.posted_at, assignment.withdrawn_at) == (director.user, at, None)
    assert [(p.section, services.window_of(p)) for p in assignment.postings.all()] == [(section, WINDOW)]


def test_each_section_may_have_its_own_times(post, band, section):
    other = factories.make_section(band=band, period="5")
    own = later(WINDOW, due=timedelta(days=1), closes=timedelta(days=1))
    assignment = post(windows={section: WINDOW, other: own})
    assert {p.section: services.window_of(p) for p in assignment.postings.all()} == {
        section: WINDOW,
        other: own,
    }


def test_lines_stand_in_the_order_of_the_exercise(post):
    assert post(lines=["B", "A"]).lines == ["A", "B"]


def test_numbers_count_up_through_the_school_year_and_start_again(post, at):
    assert [post().number, post().number] == [1, 2]
    june = datetime(2027, 6, 11, 18, 0, tzinfo=UTC)
    assert post(at=june).number == 3
    assert post(at=june + timedelta(days=1)).number == 1


def test_numbers_of_another_band_do_not_count(post):
    factories.make_assignment(band=factories.make_band(), sections=[])
    assert post().number == 1


def test_posting_to_nobody_is_refused(post):
    with pytest.raises(Refused, match=r"^Choose at least one section to post to\.$"):
        post(windows={})


def test_posting_no_line_is_refused(post):
    with pytest.raises(Refused, match=r"^Choose at least one line to ask for\.$"):
        post(lines=[])


def test_a_line_the_exercise_does_not_have_is_refused(post):
    with pytest.raises(Refused, match=r"^“Stepping Stones” has no line C; choose from A, B\.$"):
        post(lines=["A", "C"])


@pytest.mark.parametrize("what", ["exercise", "rubric", "section"])
def test_what_belongs_to_another_band_is_refused(post, what):
    other = factories.make_band()
    theirs = {
        "exercise": lambda: {"exercise": factories.make_exercise(band=other)},
        "rubric": lambda: {"rubric": factories.make_rubric(band=other)},
        "section": lambda: {"windows": {factories.make_section(band=other): WINDOW}},
    }[what]()
    with pytest.raises(Refused, match="another band"):
        post(**theirs)
    assert Posting.objects.count() == 0


def test_a_window_out_of_order_is_refused_and_nothing_is_posted(post, section, band):
    with pytest.raises(Refused, match="due before it opens"):
        post(windows={section: later(WINDOW, due=-timedelta(days=9))})
    assert band.assignments.count() == 0


# Changing -----------------------------------------------------------------------------------------


def test_everything_may_change_while_nothing_is_in(post, band, section, rubric):
    assignment = post()
    other = factories.make_section(band=band, period="5")
    new_rubric = factories.make_rubric(band=band)
    own = later(WINDOW, closes=timedelta(days=7))

    edited(
        assignment,
        windows={other: own},
        rubric=new_rubric,
        lines=["B"],
        routes=Routes.CHECK_IN,
        note="Only line B now.",
        tempos={"B": 60},
    )

    assignment.refresh_from_db()
    assert [(p.section, services.window_of(p)) for p in assignment.postings.all()] == [(other, own)]
    assert (assignment.rubric, assignment.lines, assignment.routes) == (new_rubric, ["B"], "check_in")
    assert (assignment.note, assignment.tempos, assignment.number) == ("Only line B now.", {"B": 60}, 1)


def test_a_moved_deadline_leaves_turn_ins_and_moves_lateness(post, band, seat):
    assignment = post()
    turn_in = make_turn_in(seat=seat, assignment=assignment, at=WINDOW.due_at + timedelta(hours=1))
    posting = assignment.postings.get()
    assert is_late(turn_in=turn_in, posting=posting, policy=policy_of(band))

    edited(assignment, windows={seat.section: later(WINDOW, due=timedelta(days=1))})

    posting.refresh_from_db()
    turn_in.refresh_from_db()
    assert turn_in.state == TurnIn.State.WAITING
    assert turn_in.posting_id == posting.pk
    assert not is_late(turn_in=turn_in, posting=posting, policy=policy_of(band))


def test_a_line_with_turn_ins_stays(post, seat):
    assignment = post()
    make_turn_in(seat=seat, assignment=assignment)
    with pytest.raises(Refused) as caught:
        edited(assignment, lines=["A"])
    assert caught.value.sentence == (
        "Line B has work from one student, so it stays; withdraw the assignment if nobody should play it."
    )
    assignment.refresh_from_db()
    assert assignment.lines == ["A", "B"]


def test_a_line_marked_live_stays_though_it_has_no_take(post, seat, director, at):
    assignment = post()
    turn_in = open_live(seat=seat, posting=assignment.postings.get(), by=director.user, at=at)
    make_mark(turn_in=turn_in, line="A")
    with pytest.raises(Refused, match=r"^Line A has work from one student"):
        edited(assignment, lines=["B"])


def test_a_line_nobody_played_may_go_while_the_other_has_turn_ins(post, seat):
    assignment = post()
    make_turn_in(seat=seat, assignment=assignment, lines=("A",))
    assert edited(assignment, lines=["A"]).lines == ["A"]


def test_a_section_with_turn_ins_stays(post, band, seat):
    other = factories.make_section(band=band, period="5")
    assignment = post(windows={seat.section: WINDOW, other: WINDOW})
    for student in (seat, factories.make_seat(section=seat.section)):
        make_turn_in(seat=student, assignment=assignment)
    with pytest.raises(Refused) as caught:
        edited(assignment, windows={other: WINDOW})
    assert caught.value.sentence == (
        f"{seat.section} has work from 2 students, so it stays; "
        "withdraw the assignment if nobody should see it."
    )
    assert TurnIn.objects.count() == 2


def test_a_section_with_an_excused_student_stays(post, band, seat, director, at):
    other = factories.make_section(band=band, period="5")
    assignment = post(windows={seat.section: WINDOW, other: WINDOW})
    posting = assignment.postings.get(section=seat.section)
    excuse(seat=seat, posting=posting, reason="reed broke", by=director.user, at=at)
    with pytest.raises(Refused, match="has work from one student"):
        edited(assignment, windows={other: WINDOW})


def test_a_section_with_a_take_not_yet_turned_in_stays(post, band, seat):
    other = factories.make_section(band=band, period="5")
    assignment = post(windows={seat.section: WINDOW, other: WINDOW})
    make_take(seat=seat, assignment=assignment)
    with pytest.raises(Refused, match="has work from one student"):
        edited(assignment, windows={other: WINDOW})


@pytest.mark.parametrize(("state", "stays"), [("booked", True), ("cancelled", False)])
def test_a_section_with_a_booked_check_in_stays(post, band, seat, at, state, stays):
    other = factories.make_section(band=band, period="5")
    assignment = post(windows={seat.section: WINDOW, other: WINDOW})
    slot = Slot.objects.create(band=band, starts_at=at, ends_at=at + timedelta(minutes=5))
    Booking.objects.create(
        slot=slot, seat=seat, assignment=assignment, state=state, booked_at=at, changed_at=at
    )
    if stays:
        with pytest.raises(Refused, match="has work from one student"):
            edited(assignment, windows={other: WINDOW})
    else:
        assert [p.section for p in edited(assignment, windows={other: WINDOW}).postings.all()] == [other]


def test_a_section_without_work_may_go_while_another_has_some(post, band, seat):
    other = factories.make_section(band=band, period="5")
    assignment = post(windows={seat.section: WINDOW, other: WINDOW})
    turn_in = make_turn_in(seat=seat, assignment=assignment)
    edited(assignment, windows={seat.section: WINDOW})
    assert [p.section for p in assignment.postings.all()] == [seat.section]
    assert TurnIn.objects.get() == turn_in


def test_the_rubric_stays_once_marks_were_given(post, band, seat, rubric):
    assignment = post()
    turn_in = make_turn_in(seat=seat, assignment=assignment)
    edited(assignment, rubric=(second := factories.make_rubric(band=band)))
    make_mark(turn_in=TurnIn.objects.get(pk=turn_in.pk))
    with pytest.raises(Refused, match=r"^Marks have been given with this rubric"):
        edited(assignment, rubric=rubric)
    assignment.refresh_from_db()
    assert assignment.rubric == second


def test_a_refused_change_changes_nothing_at_all(post, band, seat):
    assignment = post(note="as it was")
    other = factories.make_section(band=band, period="5")
    make_turn_in(seat=seat, assignment=assignment)
    with pytest.raises(Refused):
        edited(assignment, windows={other: WINDOW}, note="changed", routes=Routes.CHECK_IN)
    assignment.refresh_from_db()
    assert (assignment.note, assignment.routes) == ("as it was", "either")
    assert [p.section for p in assignment.postings.all()] == [seat.section]


# Copying ------------------------------------------------------------------------------------------


def test_a_copy_is_the_same_a_week_later_with_a_number_of_its_own(post, director, at):
    assignment = post(note="Slowly.", routes=Routes.RECORDING, tempos={"A": 60}, lines=["A"])
    copied = services.copy_to_next_week(assignment=assignment, by=director.user, at=at)
    week = timedelta(weeks=1)
    assert services.window_of(copied.postings.get()) == later(WINDOW, opens=week, due=week, closes=week)
    assert (copied.number, copied.exercise, copied.rubric) == (2, assignment.exercise, assignment.rubric)
    assert (copied.note, copied.routes, copied.tempos, copied.lines) == (
        "Slowly.",
        "recording",
        {"A": 60},
        ["A"],
    )
    assert copied.withdrawn_at is None


def test_a_copy_over_the_autumn_change_keeps_eight_in_the_evening(post, section, director):
    # Thursday 29 October 8 pm is UTC-5; Thursday 5 November 8 pm is UTC-6 (15 U.S.C. 260a).
    window = Window(
        opens_at=datetime(2026, 10, 26, 13, 0, tzinfo=UTC),
        due_at=datetime(2026, 10, 30, 1, 0, tzinfo=UTC),
        closes_at=datetime(2026, 11, 2, 2, 0, tzinfo=UTC),
    )
    assignment = post(windows={section: window})
    copied = services.copy_to_next_week(
        assignment=assignment, by=director.user, at=datetime(2026, 10, 28, 15, 0, tzinfo=UTC)
    )
    assert services.window_of(copied.postings.get()) == Window(
        opens_at=datetime(2026, 11, 2, 14, 0, tzinfo=UTC),
        due_at=datetime(2026, 11, 6, 2, 0, tzinfo=UTC),
        closes_at=datetime(2026, 11, 9, 2, 0, tzinfo=UTC),
    )


def test_a_copy_over_the_spring_change_keeps_eight_in_the_evening(post, section, director):
    window = Window(
        opens_at=datetime(2027, 3, 8, 14, 0, tzinfo=UTC),  # Monday 8 am, UTC-6
        due_at=datetime(2027, 3, 12, 2, 0, tzinfo=UTC),
        closes_at=datetime(2027, 3, 15, 1, 0, tzinfo=UTC),  # Sunday 14 March 8 pm, UTC-5 already
    )
    assignment = post(windows={section: window})
    copied = services.copy_to_next_week(
        assignment=assignment, by=director.user, at=datetime(2027, 3, 10, 15, 0, tzinfo=UTC)
    )
    assert services.window_of(copied.postings.get()) == Window(
        opens_at=datetime(2027, 3, 15, 13, 0, tzinfo=UTC),
        due_at=datetime(2027, 3, 19, 1, 0, tzinfo=UTC),
        closes_at=datetime(2027, 3, 22, 1, 0, tzinfo=UTC),
    )


def test_a_copy_in_a_zone_that_moves_half_an_hour_keeps_the_clock_time(director, at):
    # Lord Howe: 2 am of Sunday 4 October 2026, UTC+10:30 to UTC+11 (IANA time zone database, `australasia`).
    band = factories.make_band(time_zone="Australia/Lord_Howe")
    section = factories.make_section(band=band)
    window = Window(
        opens_at=datetime(2026, 9, 27, 22, 0, tzinfo=UTC),
        due_at=datetime(2026, 10, 1, 9, 30, tzinfo=UTC),  # Thursday 8 pm
        closes_at=datetime(2026, 10, 4, 9, 0, tzinfo=UTC),  # Sunday 8 pm, after the change
    )
    assignment = services.post(
        band=band,
        exercise=factories.make_exercise(band=band),
        windows={section: window},
        rubric=factories.make_rubric(band=band),
        lines=["A"],
        by=director.user,
        at=window.opens_at,
    )
    copied = services.copy_to_next_week(assignment=assignment, by=None, at=window.due_at)
    posting = copied.postings.get()
    assert posting.due_at == datetime(2026, 10, 8, 9, 0, tzinfo=UTC)
    assert posting.closes_at == datetime(2026, 10, 11, 9, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("today", "due_day"),
    [
        (date(2026, 10, 5), date(2026, 10, 15)),  # Monday of its own week
        (date(2026, 10, 11), date(2026, 10, 15)),  # Sunday of its own week: tomorrow a new one starts
        (date(2026, 10, 12), date(2026, 10, 22)),  # the Monday after
        (date(2026, 11, 4), date(2026, 11, 12)),  # a month later
        (date(2026, 9, 1), date(2026, 10, 15)),  # it lies ahead: a week after its own
    ],
)
def test_next_week_is_the_week_after_this_one(post, band, director, today, due_day):
    noon = datetime(today.year, today.month, today.day, 18, 0, tzinfo=UTC)
    copied = services.copy_to_next_week(assignment=post(), by=director.user, at=noon)
    assert band.local(copied.postings.get().due_at).date() == due_day


def test_a_copy_takes_the_newest_version_of_the_exercise(post, band, exercise, director, at):
    assignment = post()
    newer = factories.make_exercise(band=band, title="Stepping Stones, mended")
    exercise.replaced_by = newer
    exercise.save(update_fields=["replaced_by"])
    copied = services.copy_to_next_week(assignment=assignment, by=director.user, at=at)
    assert copied.exercise == newer
    assert assignment.exercise == exercise


def test_a_copy_keeps_the_old_version_where_the_new_one_lacks_a_line(post, band, exercise, director, at):
    assignment = post()
    newer = factories.make_exercise(band=band)
    ExerciseLine.objects.get(exercise=newer, label="B").delete()
    exercise.replaced_by = newer
    exercise.save(update_fields=["replaced_by"])
    copied = services.copy_to_next_week(assignment=assignment, by=director.user, at=at)
    assert copied.exercise == exercise


# Withdrawing --------------------------------------------------------------------------------------


def test_withdrawing_keeps_turn_ins_and_marks_and_can_be_undone(post, seat, at):
    assignment = post()
    turn_in = make_turn_in(seat=seat, assignment=assignment)
    mark = make_mark(turn_in=turn_in)

    services.withdraw(assignment=assignment, at=at)
    assignment.refresh_from_db()
    assert assignment.withdrawn_at == at
    assert (TurnIn.objects.get(), Mark.objects.get()) == (turn_in, mark)

    services.bring_back(assignment=assignment)
    assignment.refresh_from_db()
    assert assignment.withdrawn_at is None
    assert (TurnIn.objects.get(), Mark.objects.get()) == (turn_in, mark)


def test_withdrawing_twice_keeps_the_first_time(post, at):
    assignment = post()
    services.withdraw(assignment=assignment, at=at)
    with pytest.raises(Refused, match="withdrawn already"):
        services.withdraw(assignment=assignment, at=at + timedelta(hours=1))
    assignment.refresh_from_db()
    assert assignment.withdrawn_at == at


def test_what_is_not_withdrawn_cannot_be_brought_back(post):
    with pytest.raises(Refused, match="not withdrawn"):
        services.bring_back(assignment=post())


def test_bands_do_not_share_numbers_or_rows(post):
    assert post().band == Band.objects.get(assignments__isnull=False)
