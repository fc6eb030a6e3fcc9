"""What each row of a class list would do to a band."""

from datetime import datetime

import pytest

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, Seat, Section
from bandroom.people.roster_import.band_state import band_state
from bandroom.people.roster_import.columns import guess_layout
from bandroom.people.roster_import.draft import Choices
from bandroom.people.roster_import.plan import Plan, PlannedRow, RowOutcome, make_plan
from bandroom.people.roster_import.table import read_table
from bandroom.people.services.students import leave_band
from tests import factories

pytestmark = pytest.mark.django_db
HEAD = "First name,Last name,Section,Period,Instrument\n"


def plan_of(band: Band, text: str, **choices: object) -> Plan:
    table = read_table(text)
    return make_plan(
        table=table, choices=Choices(layout=guess_layout(table), **choices), state=band_state(band)
    )


def only(plan: Plan) -> PlannedRow:
    [row] = plan.rows
    return row


@pytest.fixture
def flutes(band: Band) -> Section:
    return factories.make_section(band=band, name="Flute", period="2")


@pytest.fixture
def ada(flutes: Section) -> Seat:
    return factories.make_seat(
        section=flutes, instrument="flute", student=factories.make_user(first_name="Ada", last_name="Marsh")
    )


def test_an_unknown_name_is_new(band: Band, flutes: Section) -> None:
    row = only(plan_of(band, HEAD + "Ada,Marsh,flute,2,Flute"))
    assert (row.outcome, row.says) == (RowOutcome.NEW, "joins Flute, period 2 on Flute")


def test_a_section_that_is_not_there_is_made_once_however_it_is_written(band: Band) -> None:
    plan = plan_of(band, HEAD + "Ada,Marsh,Low Brass,Period 2,Tuba\nBo,Lind,low brass,2,Trombone")
    assert [str(key) for key in plan.new_sections] == ["Low Brass, period 2"]
    assert [row.outcome for row in plan.rows] == [RowOutcome.NEW] * 2


@pytest.mark.parametrize(
    "line", ["Ada,Marsh,Flute,2,Flute", "ADA , marsh,FLUTE,2,fl", "Ada,Marsh,Flute,per. 2,flutes"]
)
def test_a_known_student_where_the_list_says_is_the_same(band: Band, ada: Seat, line: str) -> None:
    assert only(plan_of(band, HEAD + line)).outcome is RowOutcome.SAME


def test_another_instrument_is_a_change(band: Band, ada: Seat) -> None:
    row = only(plan_of(band, HEAD + "Ada,Marsh,Flute,2,Oboe"))
    assert (row.outcome, row.says) == (RowOutcome.CHANGED, "changes from Flute to Oboe")


def test_another_section_is_a_move(band: Band, ada: Seat) -> None:
    row = only(plan_of(band, HEAD + "Ada,Marsh,Low brass,5,Tuba"))
    assert row.says == "moves from Flute, period 2 to Low brass, period 5, Flute to Tuba"


def test_a_student_without_a_seat_takes_one(band: Band, flutes: Section, at: datetime) -> None:
    user = factories.make_user(first_name="Ada", last_name="Marsh")
    Membership.objects.create(band=band, user=user, role="student")
    assert (
        only(plan_of(band, HEAD + "Ada,Marsh,Flute,2,Flute")).says
        == "takes a seat in Flute, period 2 on Flute"
    )


def test_a_student_who_left_comes_back(band: Band, ada: Seat, at: datetime) -> None:
    leave_band(membership=ada.student.memberships.get(), at=at)
    row = only(plan_of(band, HEAD + "Ada,Marsh,Flute,2,Flute"))
    assert (row.outcome, row.says) == (
        RowOutcome.CHANGED,
        "comes back to the band, takes a seat in Flute, period 2 on Flute",
    )


def test_a_student_with_two_seats_is_left_to_the_director(band: Band, ada: Seat) -> None:
    factories.make_seat(
        section=factories.make_section(band=band, name="Bells"), student=ada.student, instrument="bells"
    )
    assert only(plan_of(band, HEAD + "Ada,Marsh,Flute,2,Flute")).outcome is RowOutcome.SAME
    row = only(plan_of(band, HEAD + "Ada,Marsh,Horn,2,Horn"))
    assert (row.outcome, row.says) == (
        RowOutcome.PROBLEM,
        "holds two seats: change them on the student’s page",
    )


def test_one_name_twice_in_a_list_is_never_guessed(band: Band) -> None:
    plan = plan_of(band, HEAD + "Ada,Marsh,Flute,2,Flute\nBo,Lind,Flute,2,Flute\nada,MARSH,Flute,2,Oboe")
    assert [row.outcome for row in plan.rows] == [RowOutcome.PROBLEM, RowOutcome.NEW, RowOutcome.PROBLEM]
    assert "the same name stands in row 4" in plan.rows[0].says
    assert "the same name stands in row 2" in plan.rows[2].says


def test_two_students_of_one_name_are_told_apart_by_their_section_or_not_at_all(
    band: Band, ada: Seat
) -> None:
    oboes = factories.make_section(band=band, name="Oboe", period="2")
    factories.make_seat(
        section=oboes, instrument="oboe", student=factories.make_user(first_name="Ada", last_name="Marsh")
    )
    assert only(plan_of(band, HEAD + "Ada,Marsh,Oboe,2,Oboe")).outcome is RowOutcome.SAME
    row = only(plan_of(band, HEAD + "Ada,Marsh,Horn,2,Horn"))
    assert (row.outcome, row.says) == (
        RowOutcome.PROBLEM,
        "two students have this name: add a column with their name-ids",
    )


def test_two_of_one_name_in_one_section_need_their_name_ids(band: Band, flutes: Section) -> None:
    for name_id in ("ada-11", "ada-12"):
        student = factories.make_user(first_name="Ada", last_name="Marsh", sign_in_name=name_id)
        factories.make_seat(section=flutes, instrument="flute", student=student)
    assert only(plan_of(band, HEAD + "Ada,Marsh,Flute,2,Flute")).outcome is RowOutcome.PROBLEM
    by_id = "Name-id,First name,Last name,Section,Period,Instrument\n"
    plan = plan_of(band, by_id + "Ada 11,Ada,Marsh,Flute,2,Oboe\nada-12,Ada,Marsh,Flute,2,Flute")
    assert [row.outcome for row in plan.rows] == [RowOutcome.CHANGED, RowOutcome.SAME]


def test_a_name_id_lets_a_name_be_put_right(band: Band, ada: Seat) -> None:
    head = "Name-id,First name,Last name,Section,Period,Instrument\n"
    row = only(plan_of(band, f"{head}{ada.student.sign_in_name},Adah,Marsh,Flute,2,Flute"))
    assert (row.outcome, row.says) == (RowOutcome.CHANGED, "was Ada Marsh")
    row = only(plan_of(band, f"{head}ghost-99,Ada,Marsh,Flute,2,Flute"))
    assert row.says == "nobody in this band has the name-id ghost-99: correct it or leave it empty"


def test_students_of_another_band_are_unknown_here(band: Band, flutes: Section) -> None:
    other = factories.make_section(band=factories.make_band(name="Jazz Band"))
    factories.make_seat(section=other, student=factories.make_user(first_name="Ada", last_name="Marsh"))
    assert only(plan_of(band, HEAD + "Ada,Marsh,Flute,2,Flute")).outcome is RowOutcome.NEW


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (",Marsh,Flute,2,Flute", "has no first name: add it"),
        (",,Flute,2,Flute", "has no name: add it, or take the row out"),
        ("=1+1,Marsh,Flute,2,Flute", "the first name “=1+1” is a formula: put the plain text in its place"),
        ('"=HYPERLINK(""http://evil.example"")",x,Flute,2,Flute', "is a formula"),
        ("@SUM,Marsh,Flute,2,Flute", "is a formula"),
        ("Ada,+cmd|x,Flute,2,Flute", "the last name “+cmd|x” is a formula"),
        ("Ada,#REF!,Flute,2,Flute", "is a formula"),
        ("Ada,#N/A,Flute,2,Flute", "is a formula"),
        (f"{'A' * 61},Marsh,Flute,2,Flute", "the first name is longer than 60 letters: shorten it"),
        (f"Ada,{'M' * 81},Flute,2,Flute", "the last name is longer than 80 letters"),
        (f"Ada,Marsh,{'F' * 61},2,Flute", "the section is longer than 60 letters"),
        (f"Ada,Marsh,Flute,{'2' * 31},Flute", "the class period is longer than 30 letters"),
        ("Ada\x07,Marsh,Flute,2,Flute", "holds signs that cannot be shown: type it anew"),
        ("4711,Marsh,Flute,2,Flute", "“4711” is no first name"),
        ("Ada,Marsh,Reeds,2,", "has no instrument: add it"),
        (
            "Ada,Marsh,Flute,2,claranet",
            "the instrument “claranet” is not known here: did you mean B♭ clarinet?",
        ),
        ("Ada,Marsh,Flute,2,kazoo", "the instrument “kazoo” is not known here: choose above what it means"),
    ],
)
def test_a_row_that_cannot_be_taken_says_why_and_what_to_do(
    band: Band, flutes: Section, line: str, says: str
) -> None:
    row = only(plan_of(band, HEAD + line))
    assert row.outcome is RowOutcome.PROBLEM
    assert says in row.says


@pytest.mark.parametrize(
    "first_name", ["O'Neil", "Jean-Luc", "Ana María", "Zoë", "李", "Mary (Molly)", "D’Arcy"]
)
def test_names_of_all_kinds_are_taken(band: Band, first_name: str) -> None:
    assert only(plan_of(band, HEAD + f"{first_name},Marsh,Flute,2,Flute")).outcome is RowOutcome.NEW


@pytest.mark.parametrize(
    ("whole", "first", "last"),
    [
        ('"Marsh, Ada"', "Ada", "Marsh"),
        ('"de la Cruz, Ana María"', "Ana María", "de la Cruz"),
        ("Ada Marsh", "Ada", "Marsh"),
        ("Mary Ann Marsh", "Mary Ann", "Marsh"),
        ("Ada", "Ada", ""),
    ],
)
def test_a_whole_name_is_taken_apart(band: Band, whole: str, first: str, last: str) -> None:
    row = only(plan_of(band, f"Student,Instrument\n{whole},Flute"))
    assert (row.first_name, row.last_name) == (first, last)


def test_without_a_section_column_each_instrument_gets_its_section(band: Band) -> None:
    plan = plan_of(
        band, "Student,Instrument\nAda M,Clarinet\nBo L,euph tc\nCy H,euph\nDee O,glock", period="2"
    )
    assert [str(key) for key in plan.new_sections] == [
        "Clarinet, period 2",
        "Baritone, period 2",
        "Percussion, period 2",
    ]


def test_or_everybody_goes_to_one_section(band: Band, flutes: Section) -> None:
    plan = plan_of(band, "Student\nAda Marsh\nBo Lind", section=flutes.pk, instrument=Instrument.FLUTE)
    assert [row.says for row in plan.rows] == ["joins Flute, period 2 on Flute"] * 2


def test_a_section_named_after_its_instrument_says_the_instrument(band: Band) -> None:
    assert only(plan_of(band, "Student,Section\nAda Marsh,Trumpet")).instrument is Instrument.TRUMPET


def test_a_section_in_two_periods_needs_the_period(band: Band, flutes: Section) -> None:
    text = "Student,Section,Instrument\nAda Marsh,Flute,Flute"
    assert only(plan_of(band, text)).says == "joins Flute, period 2 on Flute"
    factories.make_section(band=band, name="Flute", period="5")
    assert "there is a section Flute in periods 2 and 5" in only(plan_of(band, text)).says
    assert only(plan_of(band, text, period="5")).says == "joins Flute, period 5 on Flute"


def test_what_the_director_says_a_word_means_is_taken(band: Band, flutes: Section) -> None:
    text = HEAD + "Ada,Marsh,Flute,2,kazoo\nBo,Lind,Flute,2,kazoo\nCy,Holm,Flute,2,ocarina"
    assert plan_of(band, text).unknown_instruments == ("kazoo", "ocarina")
    plan = plan_of(band, text, meanings={"kazoo": Instrument.FLUTE})
    assert [row.outcome for row in plan.rows] == [RowOutcome.NEW, RowOutcome.NEW, RowOutcome.PROBLEM]


@pytest.mark.parametrize(
    ("role", "outcome"), [("student", RowOutcome.NEW), ("", RowOutcome.NEW), ("teacher", RowOutcome.LEFT_OUT)]
)
def test_of_an_open_roster_only_students_are_taken(band: Band, role: str, outcome: RowOutcome) -> None:
    row = only(plan_of(band, f"role,givenName,familyName\n{role},Ada,Marsh", instrument=Instrument.FLUTE))
    assert row.outcome is outcome


def test_students_who_are_not_in_the_list_are_counted_and_nothing_else(band: Band, ada: Seat) -> None:
    plan = plan_of(band, HEAD + "Bo,Lind,Flute,2,Flute")
    assert plan.not_in_list == 1
    assert [row.name for row in plan.rows] == ["Bo Lind"]


def test_the_fingerprint_follows_what_would_be_done(band: Band, ada: Seat) -> None:
    text = HEAD + "Ada,Marsh,Flute,2,Oboe"
    before = plan_of(band, text).fingerprint
    assert plan_of(band, text).fingerprint == before
    assert plan_of(band, text + "\nBo,Lind,Flute,2,Flute").fingerprint != before
    Seat.objects.update(instrument="horn")
    assert plan_of(band, text).fingerprint != before
