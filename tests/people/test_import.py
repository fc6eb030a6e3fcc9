"""A class list from the file to the band: exactly what the preview showed, all of it or nothing."""

import re
from datetime import datetime
from unittest.mock import patch

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, IntegrityError, connection
from django.test import Client
from django.urls import reverse

from bandroom.people.instruments import Instrument
from bandroom.people.models import Band, Membership, RecordingPermission, Role, Seat, Section, User
from bandroom.people.roster_import.apply import BandHasChanged, apply_draft
from bandroom.people.roster_import.band_state import band_state
from bandroom.people.roster_import.columns import guess_layout
from bandroom.people.roster_import.draft import Choices, DraftError, RosterDraft, opened_draft, signed_draft
from bandroom.people.roster_import.plan import RowOutcome, make_plan
from bandroom.people.roster_import.table import read_table
from tests import factories

pytestmark = pytest.mark.django_db
GIVE, PREVIEW, APPLY = (reverse(f"people:{name}") for name in ("import", "import-preview", "import-apply"))
HEAD = "First name,Last name,Section,Period,Instrument\n"
LIST = HEAD + "Ada,Marsh,Flute,2,Flute\nBo,Lind,Low brass,2,Trombone\n"


def draft_of(text: str, *, band: Band, **choices: object) -> RosterDraft:
    """A draft whose plan has been shown for the band as it is now."""
    table = read_table(text)
    draft = RosterDraft(table=table, choices=Choices(layout=guess_layout(table), **choices))
    plan = make_plan(table=table, choices=draft.choices, state=band_state(band))
    return draft.shown(plan.fingerprint)


def list_of(count: int, *, instrument: str = "Clarinet") -> str:
    return HEAD + "".join(f"Ada{n},Marsh,Section {n % 20},2,{instrument}\n" for n in range(count))


def rows_of(model: type) -> int:
    return model.objects.count()


def everything() -> list[list[tuple[object, ...]]]:
    return [list(model.objects.order_by("pk").values_list()) for model in (User, Membership, Section, Seat)]


def hidden(page: str) -> str:
    found = re.search(r'name="draft" value="([^"]+)"', page)
    assert found
    return found.group(1)


def form_of(page: str) -> dict[str, str]:
    """What the browser would send for the form of choices: each select's chosen option, each text box."""
    sent = {"draft": hidden(page)}
    for name, body in re.findall(r'<select name="([^"]+)".*?>(.*?)</select>', page, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', body)
        sent[name] = chosen.group(1) if chosen else ""
    if re.search(r'name="has_head"[^>]* checked', page):
        sent["has_head"] = "on"
    return sent


def through(client: Client, text: str, *, upload: bool = False, **changed: str) -> tuple[str, str]:
    """Give a list and confirm its columns; the page of columns and the preview."""
    sent = {"file": SimpleUploadedFile("list.csv", text.encode())} if upload else {"pasted": text}
    columns = client.post(GIVE, sent)
    assert columns.status_code == 200, columns.content.decode()
    page = columns.content.decode()
    preview = client.post(PREVIEW, form_of(page) | changed)
    assert preview.status_code == 200
    return page, preview.content.decode()


# What is written


def test_new_students_sections_and_seats(band: Band, at: datetime) -> None:
    done = apply_draft(band=band, draft=draft_of(LIST, band=band), at=at)
    assert (done.new, done.changed, done.left) == (2, 0, 0)
    assert [(s.name, s.period, s.order) for s in Section.objects.order_by("order")] == [
        ("Flute", "2", 0),
        ("Low brass", "2", 1),
    ]
    seats = Seat.objects.order_by("pk").select_related("student", "section")
    assert [(str(s.student), s.section.name, s.instrument, str(s.since)) for s in seats] == [
        ("Ada Marsh", "Flute", "flute", "2026-10-06"),
        ("Bo Lind", "Low brass", "trombone", "2026-10-06"),
    ]
    ada = Membership.objects.get(user__first_name="Ada")
    assert (ada.role, ada.recording, ada.card_issued_at) == (Role.STUDENT, RecordingPermission.PENDING, None)
    assert re.fullmatch("ada-[0-9]{2}", ada.user.sign_in_name)
    assert not ada.user.has_usable_password()


def test_the_same_list_again_changes_nothing(band: Band, at: datetime) -> None:
    apply_draft(band=band, draft=draft_of(LIST, band=band), at=at)
    before = everything()
    draft = draft_of(LIST, band=band)
    plan = make_plan(table=draft.table, choices=draft.choices, state=band_state(band))
    assert {row.outcome for row in plan.rows} == {RowOutcome.SAME}
    done = apply_draft(band=band, draft=draft, at=at)
    assert (done.new, done.changed) == (0, 0)
    assert everything() == before


def test_changes_keep_the_seat_before(band: Band, at: datetime) -> None:
    section = factories.make_section(band=band, name="Trumpet", period="2")
    linh = factories.make_user(first_name="Linh", last_name="A")
    old = factories.make_seat(section=section, instrument="trumpet", student=linh)
    apply_draft(band=band, draft=draft_of(HEAD + "Linh,A,Low brass,2,Baritone TC", band=band), at=at)
    old.refresh_from_db()
    new = Seat.objects.get(until=None)
    assert (old.instrument, str(old.until)) == ("trumpet", "2026-10-05")
    assert (new.instrument, new.section.name, str(new.since)) == ("baritone_tc", "Low brass", "2026-10-06")


def test_a_seat_of_today_is_put_right_in_place(band: Band, at: datetime) -> None:
    apply_draft(band=band, draft=draft_of(LIST, band=band), at=at)
    before = set(Seat.objects.values_list("pk", flat=True))
    apply_draft(band=band, draft=draft_of(LIST.replace("Flute,2,Flute", "Oboe,2,Oboe"), band=band), at=at)
    assert set(Seat.objects.values_list("pk", flat=True)) == before
    ada = Seat.objects.get(student__first_name="Ada")
    assert (ada.instrument, ada.section.name, ada.until) == ("oboe", "Oboe", None)


def test_whoever_left_comes_back_and_names_are_put_right_by_name_id(band: Band, at: datetime) -> None:
    section = factories.make_section(band=band, name="Flute", period="2")
    ada = factories.make_user(first_name="Ada", last_name="Marsh", sign_in_name="ada-11")
    seat = factories.make_seat(section=section, student=ada, instrument="flute")
    Membership.objects.update(ended_at=at)
    Seat.objects.update(until=seat.since)
    text = "Name-id," + HEAD + "ada 11,Adah,Marsh,Flute,2,Flute"
    apply_draft(band=band, draft=draft_of(text, band=band), at=at)
    member = Membership.objects.get()
    assert (member.ended_at, str(member.user)) == (None, "Adah Marsh")
    assert Seat.objects.filter(until=None).count() == 1


def test_rows_with_problems_are_left_out_and_counted(band: Band, at: datetime) -> None:
    done = apply_draft(band=band, draft=draft_of(LIST + "=1+1,x,Flute,2,Flute\n", band=band), at=at)
    assert (done.new, done.left) == (2, 1)
    assert rows_of(User) == 2


def test_five_hundred_rows_at_once(band: Band, at: datetime, django_assert_max_num_queries) -> None:
    """The same number of queries as for five rows, but for the batches that the database itself asks for."""
    draft = draft_of(list_of(500), band=band)
    with django_assert_max_num_queries(30):
        done = apply_draft(band=band, draft=draft, at=at)
    assert done.new == 500
    assert (rows_of(User), rows_of(Membership), rows_of(Seat), rows_of(Section)) == (500, 500, 500, 20)
    assert len(set(User.objects.values_list("sign_in_name", flat=True))) == 500
    moved = draft_of(list_of(500, instrument="Oboe"), band=band)
    with django_assert_max_num_queries(30):
        assert apply_draft(band=band, draft=moved, at=at).changed == 500
    assert set(Seat.objects.values_list("instrument", flat=True)) == {"oboe"}


def test_the_band_is_looked_at_in_three_queries(
    band: Band, section: Section, django_assert_num_queries
) -> None:
    for _ in range(30):
        factories.make_seat(section=section)
    with django_assert_num_queries(3):
        band_state(band)


# All of it or nothing


@pytest.mark.parametrize("table", ["people_section", "people_user", "people_membership", "people_seat"])
def test_a_database_error_at_any_table_leaves_nothing_behind(band: Band, at: datetime, table: str) -> None:
    draft, before = draft_of(LIST, band=band), everything()

    def failing(execute, sql, params, many, context):
        if sql.startswith("INSERT") and f'"{table}"' in sql:
            raise DatabaseError("disk I/O error")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(failing), pytest.raises(DatabaseError, match="disk I/O"):
        apply_draft(band=band, draft=draft, at=at)
    assert everything() == before


def test_an_error_while_old_seats_are_closed_leaves_everything_as_it_was(band: Band, at: datetime) -> None:
    section = factories.make_section(band=band, name="Flute", period="2")
    factories.make_seat(
        section=section, instrument="flute", student=factories.make_user(first_name="Ada", last_name="Marsh")
    )
    draft, before = draft_of(LIST.replace("Flute,2,Flute", "Oboe,2,Oboe"), band=band), everything()

    def failing(execute, sql, params, many, context):
        if sql.startswith("UPDATE") and '"people_seat"' in sql:
            raise DatabaseError("database is locked")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(failing), pytest.raises(DatabaseError):
        apply_draft(band=band, draft=draft, at=at)
    assert everything() == before


def test_a_name_id_drawn_twice_at_the_same_moment_is_drawn_anew(band: Band, at: datetime) -> None:
    factories.make_user(sign_in_name="ada-11", first_name="Ada")
    draws = iter([["ada-11", "bo-11"], ["ada-12", "bo-11"]])
    with patch("bandroom.people.roster_import.apply.new_name_ids", lambda _: next(draws)):
        assert apply_draft(band=band, draft=draft_of(LIST, band=band), at=at).new == 2
    assert Membership.objects.filter(user__sign_in_name="ada-12").exists()
    assert rows_of(User) == 3


def test_if_it_never_works_the_error_is_shown_and_nothing_kept(band: Band, at: datetime) -> None:
    factories.make_user(sign_in_name="ada-11", first_name="Ada")
    with (
        patch("bandroom.people.roster_import.apply.new_name_ids", lambda _: ["ada-11", "bo-11"]),
        pytest.raises(IntegrityError),
    ):
        apply_draft(band=band, draft=draft_of(LIST, band=band), at=at)
    assert (rows_of(User), rows_of(Section)) == (1, 0)


def test_a_band_that_has_changed_since_the_preview_is_not_touched(band: Band, at: datetime) -> None:
    draft = draft_of(LIST, band=band)
    factories.make_seat(
        section=factories.make_section(band=band, name="Flute", period="2"),
        student=factories.make_user(first_name="Ada", last_name="Marsh"),
    )
    before = everything()
    with pytest.raises(BandHasChanged) as changed:
        apply_draft(band=band, draft=draft, at=at)
    assert everything() == before
    assert changed.value.plan.rows[0].outcome is RowOutcome.CHANGED


# The draft


def test_a_draft_comes_back_as_it_went(director: Membership) -> None:
    table = read_table("sep=;\nStudent;Plays\nMarsh, Ada;kazoo\n")
    choices = Choices(
        layout=guess_layout(table),
        section=7,
        period="2",
        instrument=Instrument.FLUTE,
        meanings={"kazoo": Instrument.OBOE},
        recording=RecordingPermission.GRANTED,
    )
    draft = RosterDraft(table=table, choices=choices, seen="abc")
    assert opened_draft(signed_draft(draft, membership=director), membership=director) == draft


def test_a_draft_is_good_for_one_director_of_one_band_unchanged_and_for_a_day(
    director: Membership, at: datetime
) -> None:
    with time_machine.travel(at, tick=False):
        token = signed_draft(draft_of(LIST, band=director.band), membership=director)
        colleague = factories.make_staff(band=director.band)
        own_other = factories.make_staff(band=factories.make_band(name="Jazz Band"), user=director.user)
        for reader, sent in ((colleague, token), (own_other, token), (director, token[:-1]), (director, "")):
            with pytest.raises(DraftError, match="give us the list again"):
                opened_draft(sent, membership=reader)
    with time_machine.travel(at.replace(day=8), tick=False), pytest.raises(DraftError):
        opened_draft(token, membership=director)


# The pages


def test_from_the_file_to_the_cards(sign_in, director: Membership) -> None:
    client = sign_in(director.user)
    columns, preview = through(client, LIST, upload=True)
    assert "2 rows. Guessed from the heads" in columns
    assert re.search(r"<b>2</b> new", preview)
    assert "New sections: Flute, period 2; Low brass, period 2." in preview
    assert rows_of(Seat) == rows_of(Section) == 0
    answer = client.post(APPLY, {"draft": hidden(preview)})
    assert answer["Location"] == reverse("people:cards")
    page = client.get(answer["Location"]).content.decode()
    assert "Imported: 2 new, 0 changed. Now print cards for the new students." in page
    assert len(re.findall(r'name="students" value="\d+" checked', page)) == 2
    assert rows_of(Seat) == 2


def test_pressing_twice_writes_once(sign_in, director: Membership) -> None:
    client = sign_in(director.user)
    _, preview = through(client, LIST)
    client.post(APPLY, {"draft": hidden(preview)})
    before = everything()
    again = client.post(APPLY, {"draft": hidden(preview)})
    assert again.status_code == 409
    assert (
        "The band has changed since this page was made: look again, nothing was written."
        in again.content.decode()
    )
    assert everything() == before


def test_an_unknown_instrument_is_asked_about_and_its_answer_taken(sign_in, director: Membership) -> None:
    client = sign_in(director.user)
    _, preview = through(client, HEAD + "Ada,Marsh,Flute,2,claranet\n")
    assert "did you mean B♭ clarinet?" in preview
    sent = form_of(preview)
    assert sent["meaning_0"] == "clarinet"
    again = client.post(PREVIEW, sent).content.decode()
    assert "joins Flute, period 2 on B♭ clarinet" in again
    client.post(APPLY, {"draft": hidden(again)})
    assert Seat.objects.get().instrument == "clarinet"


def test_problems_must_be_left_out_knowingly(sign_in, director: Membership) -> None:
    client = sign_in(director.user)
    _, preview = through(client, LIST + "=1+1,x,Flute,2,Flute\n")
    refused = client.post(APPLY, {"draft": hidden(preview)})
    assert refused.status_code == 422
    assert "Tick that the rows with problems are left out" in refused.content.decode()
    assert rows_of(Seat) == 0
    client.post(APPLY, {"draft": hidden(preview), "without_problems": "yes"})
    assert rows_of(Seat) == 2


def test_columns_can_be_put_right(sign_in, director: Membership) -> None:
    client = sign_in(director.user)
    columns = client.post(GIVE, {"pasted": "Vorname\tNachname\tStimme\nAda\tMarsh\tFlute\n"}).content.decode()
    sent = form_of(columns) | {
        "column_0": "first",
        "column_1": "last",
        "column_2": "instrument",
        "has_head": "on",
    }
    preview = client.post(PREVIEW, sent).content.decode()
    assert "joins Flute on Flute" in preview
    twice = client.post(PREVIEW, sent | {"column_1": "first"})
    assert twice.status_code == 422
    assert "Two columns are “First name”" in twice.content.decode()


def test_a_preview_that_was_not_seen_is_shown_first(sign_in, director: Membership) -> None:
    client = sign_in(director.user)
    columns = client.post(GIVE, {"pasted": LIST}).content.decode()
    answer = client.post(APPLY, {"draft": hidden(columns)})
    assert answer.status_code == 200
    assert "Nothing has been written yet." in answer.content.decode()
    assert rows_of(Seat) == 0


def test_a_draft_that_was_tampered_with_begins_again(sign_in, director: Membership) -> None:
    client = sign_in(director.user)
    for url in (PREVIEW, APPLY):
        answer = client.post(url, {"draft": "made-up"}, follow=True)
        assert answer.redirect_chain == [(GIVE, 302)]
        assert "give us the list again" in answer.content.decode()


@pytest.mark.parametrize(
    ("sent", "says"),
    [
        ({}, "Choose a file, or paste the rows of your list."),
        ({"pasted": "   "}, "Choose a file, or paste the rows of your list."),
        ({"file": SimpleUploadedFile("a.csv", b"a,b"), "pasted": "a,b"}, "Give the list once"),
        ({"file": SimpleUploadedFile("empty.csv", b"")}, "This file is empty"),
        ({"file": SimpleUploadedFile("list.xlsx", b"PK\x03\x04")}, "choose Save as and the type “CSV UTF-8”"),
        ({"file": SimpleUploadedFile("x" * 300 + "/🎺.csv", b"\x81,\x8d")}, "in an encoding we cannot read"),
        ({"pasted": 'Name\n"Ada\n'}, "A quotation mark near line"),
    ],
)
def test_a_list_that_cannot_be_read_says_so_at_its_field(
    sign_in, director: Membership, sent: dict, says: str
) -> None:
    answer = sign_in(director.user).post(GIVE, sent)
    assert answer.status_code == 422
    assert says in answer.content.decode()


def test_what_was_pasted_is_not_lost_by_a_mistake(sign_in, director: Membership) -> None:
    page = sign_in(director.user).post(GIVE, {"pasted": 'Name\n"Ada Marsh\n'}).content.decode()
    assert "&quot;Ada Marsh" in page


def test_html_in_a_list_is_text(sign_in, director: Membership) -> None:
    evil = "<img src=x onerror=alert(1)>"
    columns, preview = through(sign_in(director.user), f"{HEAD}{evil},Marsh,{evil},2,{evil}\n")
    for page in (columns, preview):
        assert evil not in page
        assert "&lt;img src=x" in page


def test_the_preview_of_five_hundred_rows_stays_a_page(sign_in, director: Membership) -> None:
    _, preview = through(sign_in(director.user), list_of(500))
    assert re.search(r"<b>500</b> new", preview)
    assert len(preview.encode()) < 150_000
