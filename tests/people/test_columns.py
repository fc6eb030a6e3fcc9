"""What the columns of a class list hold, and which instruments its words mean."""

import pytest

from bandroom.people.instrument_names import ALIASES, instrument_of, plain_words, suggested_instrument
from bandroom.people.instruments import Instrument
from bandroom.people.roster_import.columns import Column, guess_layout, layout_problem
from bandroom.people.roster_import.table import read_table

FIRST, LAST, FULL = Column.FIRST_NAME, Column.LAST_NAME, Column.FULL_NAME
SECTION, PERIOD, INSTRUMENT, NONE = Column.SECTION, Column.PERIOD, Column.INSTRUMENT, Column.IGNORE
# The header of users.csv in the open 1EdTech OneRoster 1.1 CSV binding, table "users.csv" (from memory).
ONEROSTER = (
    "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,userIds,givenName,familyName,"
    "middleName,identifier,email,sms,phone,agentSourcedIds,grades,password"
)


@pytest.mark.parametrize(
    ("head", "columns"),
    [
        ("First name,Last name,Section,Period,Instrument", (FIRST, LAST, SECTION, PERIOD, INSTRUMENT)),
        ("LAST_NAME,FIRST_NAME,INST.", (LAST, FIRST, INSTRUMENT)),
        ("Student,Class Period,Instrument,Grade", (FULL, PERIOD, INSTRUMENT, NONE)),
        ("Student,First,Last,Instrument", (NONE, FIRST, LAST, INSTRUMENT)),
        ("First,First,Last", (FIRST, NONE, LAST)),
        ("Name-id,Surname,Given name", (Column.NAME_ID, LAST, FIRST)),
    ],
)
def test_heads_are_known_by_their_usual_names(head: str, columns: tuple[Column, ...]) -> None:
    layout = guess_layout(read_table(f"{head}\n{'x,' * len(columns)}\n"))
    assert (layout.head, layout.columns) == (0, columns)


def test_the_open_oneroster_columns_are_known() -> None:
    layout = guess_layout(read_table(ONEROSTER + "\n" + ",".join("x" * 18)))
    named = dict(zip(ONEROSTER.split(","), layout.columns, strict=True))
    assert named["givenName"] is FIRST
    assert named["familyName"] is LAST
    assert named["role"] is Column.ROLE
    assert {column for name, column in named.items() if name not in {"givenName", "familyName", "role"}} == {
        NONE
    }


def test_titles_above_the_heads_are_passed_over() -> None:
    table = read_table("Roster of 24 August\n\nFirst name,Last name,Instrument\nAda,Marsh,Flute\n")
    layout = guess_layout(table)
    assert layout.heads(table) == ("First name", "Last name", "Instrument")
    assert [row.number for row in layout.rows(table)] == [4]


def test_without_heads_instruments_and_names_show_themselves() -> None:
    table = read_table("1;Ada Marsh;Flute\n2;Bo Lind;Alto\n3;Cy Holm;kazoo\n")
    layout = guess_layout(table)
    assert (layout.head, layout.columns) == (None, (NONE, FULL, INSTRUMENT))
    assert layout.heads(table) == ("Column 1", "Column 2", "Column 3")


@pytest.mark.parametrize(
    ("columns", "says"),
    [
        ((FIRST, FIRST), "Two columns are “First name”"),
        ((FULL, LAST), "Choose either the whole name"),
        ((LAST, INSTRUMENT), "Say which column holds the first name"),
        ((NONE, NONE), "Say which column holds the first name"),
    ],
)
def test_a_choice_that_cannot_be_read_is_said(columns: tuple[Column, ...], says: str) -> None:
    problem = layout_problem(columns)
    assert problem
    assert says in problem
    assert layout_problem((FIRST, LAST, INSTRUMENT)) is None


# Common practice of American band rosters, no source.
@pytest.mark.parametrize(
    ("written", "instrument"),
    [
        ("alto", Instrument.ALTO_SAX),
        ("E♭ Alto-Sax.", Instrument.ALTO_SAX),
        ("ALTO SAXOPHONE", Instrument.ALTO_SAX),
        ("euphonium TC", Instrument.BARITONE_TC),
        ("Baritone T.C.", Instrument.BARITONE_TC),
        ("Euphonium", Instrument.BARITONE_BC),
        ("baritone sax", Instrument.BARI_SAX),
        ("glock", Instrument.BELLS),
        ("Bb Clarinet", Instrument.CLARINET),
        ("B♭ clarinet", Instrument.CLARINET),
        ("Clarinet 2", Instrument.CLARINET),
        ("2nd Clarinet", Instrument.CLARINET),
        ("Trumpet III", Instrument.TRUMPET),
        ("French horn", Instrument.HORN),
        ("snare_drum", Instrument.SNARE),
    ],
)
def test_instruments_are_known_by_many_names(written: str, instrument: Instrument) -> None:
    assert instrument_of(written) is instrument


@pytest.mark.parametrize("instrument", list(Instrument))
def test_every_instrument_is_known_by_its_own_id_label_and_tab(instrument: Instrument) -> None:
    for written in (instrument.value, instrument.label, instrument.tab):
        assert instrument_of(written) is instrument


def test_no_name_stands_for_two_instruments() -> None:
    meanings: dict[str, Instrument] = {}
    for instrument, names in ALIASES.items():
        for name in names:
            assert meanings.setdefault(plain_words(name), instrument) is instrument, name


@pytest.mark.parametrize(
    ("written", "suggestion"),
    [
        ("claranet", Instrument.CLARINET),
        ("tropet", Instrument.TRUMPET),
        ("tromboon", Instrument.TROMBONE),
        ("saxophone", Instrument.ALTO_SAX),
        ("saxofone", Instrument.ALTO_SAX),
        ("percussion", Instrument.BELLS),
        ("kazoo", None),
        ("violin", None),
        ("xx", None),
        ("", None),
    ],
)
def test_what_is_unclear_or_misspelled_is_suggested_never_taken(
    written: str, suggestion: Instrument | None
) -> None:
    assert instrument_of(written) is None
    assert suggested_instrument(written) is suggestion
