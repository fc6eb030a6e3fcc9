"""A recording that cannot be played never displaces one that can; what came is kept for the staff."""

import shutil
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.core.management import CommandError, call_command
from django.utils.timezone import now
from django_tasks_db.models import DBTaskResult

from submissions.models import CountingTake, Listen, Mark, Take, TurnIn
from submissions.takes import tasks
from submissions.takes.services import leases, preparation
from submissions.takes.services.preparation import PREPARING, Ended
from submissions.turn_ins import services as turn_ins
from submissions.turn_ins.lines_in import lines_in
from tests.submissions.takes import sounds

pytestmark = pytest.mark.django_db
TEXT = b"Dear director, here is my homework.\n" * 100
FELL_BACK = (
    "The last recording you turned in for line A cannot be played. Your earlier one counts. "
    "Record line A again, or leave it as it is."
)
WEBKIT_TAKE = Path(__file__).parents[2] / "preparing" / "data" / "webkit_take.mp4"


@pytest.fixture
def content(tmp_path) -> bytes:
    return sounds.webm(tmp_path / "phone.webm", sounds.line(seconds=2)).read_bytes()


@pytest.fixture
def good(phone, assignment, content) -> Take:
    """A take that was turned in and can be played."""
    take = phone.send(assignment, content)
    assert prepared(take) == Ended.READY
    turn_in(phone, assignment, take)
    return take


def prepared(take: Take) -> Ended:
    ended = preparation.prepare(take_pk=take.pk, clock=now, queue=tasks.queue_hearing_of).ended
    take.refresh_from_db()
    return ended


def turn_in(phone, assignment, take: Take) -> None:
    assert phone.turn_in(assignment, takes={"A": str(take.pk)}).status_code == 200


def declared(phone, assignment, content: bytes) -> Take:
    """Turned in before a byte of it came."""
    declaration = phone.declaration(content)
    answer = phone.turn_in(assignment, takes={"A": declaration["id"]}, declare=[declaration])
    assert answer.status_code == 200
    return Take.objects.get(pk=declaration["id"])


def arrives(phone, take: Take, content: bytes) -> None:
    assert phone.patch(str(take.pk), 0, content).status_code == 204
    take.refresh_from_db()


def alerts() -> list[str]:
    row = TurnIn.objects.get()
    return lines_in([(row, ["A"])])[row.pk].alerts


def counting() -> CountingTake:
    return CountingTake.objects.get(line="A")


def test_a_text_file_turned_in_later_lets_the_readable_take_count_again(phone, assignment, good):
    text = declared(phone, assignment, TEXT)
    assert counting().take_id == text.pk

    arrives(phone, text, TEXT)
    # by its first bytes alone, before a worker looks at it
    assert (counting().take_id, counting().instead_of_id) == (good.pk, text.pk)
    assert alerts() == []

    assert prepared(text) == Ended.REFUSED
    assert alerts() == [FELL_BACK]

    row = counting()
    assert (row.take_id, row.instead_of_id, row.earlier) == (good.pk, text.pk, [])
    assert row.turn_in.state == TurnIn.State.WAITING


def test_what_begins_strangely_but_plays_counts_in_the_end(phone, assignment, good, content, tmp_path):
    """As an mp3 behind some text: no signature says so, decoding does."""
    strange = b"Dear director, " + sounds.mp3(tmp_path / "mp3", sounds.line(seconds=2)).read_bytes()
    take = declared(phone, assignment, strange)
    arrives(phone, take, strange)
    assert (counting().take_id, counting().instead_of_id) == (good.pk, take.pk)

    assert prepared(take) == Ended.READY

    row = counting()
    assert (row.take_id, row.instead_of_id, row.earlier) == (take.pk, None, [str(good.pk)])
    assert alerts() == []


def test_a_take_that_plays_after_an_upgrade_counts_and_the_alert_is_gone(phone, assignment, good):
    later = phone.send(assignment, WEBKIT_TAKE.read_bytes())
    turn_in(phone, assignment, later)
    Take.objects.filter(pk=later.pk).update(state=Take.State.REFUSED)  # as by an earlier version
    turn_ins.fall_back()
    assert alerts() == [FELL_BACK]

    call_command("prepare", "--again", stdout=StringIO())
    assert alerts() == []
    assert prepared(later) == Ended.READY

    assert (counting().take_id, counting().instead_of_id) == (later.pk, None)
    assert alerts() == []


def test_what_was_marked_meanwhile_keeps_the_take_that_was_marked(phone, assignment, good, director):
    later = phone.send(assignment, WEBKIT_TAKE.read_bytes())
    turn_in(phone, assignment, later)
    Take.objects.filter(pk=later.pk).update(state=Take.State.REFUSED)
    turn_ins.fall_back()
    criterion = assignment.rubric.criteria.first()
    Mark.objects.create(
        turn_in=TurnIn.objects.get(), attempt=1, line="A", criterion=criterion,
        level=criterion.levels.first(), given_by=director.user, given_at=now(),
    )  # fmt: skip

    call_command("prepare", "--again", stdout=StringIO())
    assert prepared(later) == Ended.READY

    assert counting().take_id == good.pk


def test_one_that_waits_is_not_forgotten_when_the_one_before_it_is_refused(phone, assignment, good, content):
    second = phone.send(assignment, TEXT)
    turn_in(phone, assignment, second)
    third = declared(phone, assignment, TEXT + b"!")
    arrives(phone, third, TEXT + b"!")
    assert (counting().take_id, counting().instead_of_id) == (second.pk, third.pk)

    assert prepared(second) == Ended.REFUSED

    assert (counting().take_id, counting().instead_of_id) == (good.pk, third.pk)


def test_of_several_the_newest_that_can_be_played_counts(phone, assignment, good, content):
    second, third, fourth = (phone.send(assignment, c) for c in (content + b"\0", TEXT, TEXT + b"!"))
    for take in (second, third, fourth):
        turn_in(phone, assignment, take)

    # the two that are none are found out in any order; the second waits to be prepared
    assert prepared(fourth) == Ended.REFUSED
    assert counting().take_id == third.pk
    assert prepared(third) == Ended.REFUSED
    assert counting().take_id == second.pk
    assert prepared(second) == Ended.READY

    row = counting()
    assert (row.take_id, row.instead_of_id, row.earlier) == (second.pk, third.pk, [str(good.pk)])


def test_without_an_earlier_one_it_stays_with_its_reason(phone, assignment):
    text = phone.send(assignment, TEXT)
    turn_in(phone, assignment, text)

    assert prepared(text) == Ended.REFUSED

    assert (counting().take_id, counting().instead_of_id) == (text.pk, None)
    assert text.reason


def test_what_was_marked_meanwhile_does_not_change(phone, assignment, good, director):
    text = phone.send(assignment, TEXT)
    turn_in(phone, assignment, text)
    row = TurnIn.objects.get()
    turn_ins.return_turn_in(turn_in=row, attempt=1, by=director.user, at=now(), unmarked_is_meant=True)

    assert prepared(text) == Ended.REFUSED

    assert counting().take_id == text.pk


def test_a_newer_take_settles_it(phone, assignment, good, content):
    text = phone.send(assignment, TEXT)
    turn_in(phone, assignment, text)
    prepared(text)
    newer = phone.send(assignment, content + b"\0\0")

    turn_in(phone, assignment, newer)

    row = counting()
    assert (row.take_id, row.instead_of_id, row.earlier) == (newer.pk, None, [str(good.pk)])


def test_a_worker_that_died_with_the_last_try_in_its_hands_is_made_good_by_the_sweep(phone, assignment, good):
    text = phone.send(assignment, TEXT)
    turn_in(phone, assignment, text)
    Take.objects.filter(pk=text.pk).update(tries=leases.MOST_TRIES - 1)
    assert leases.claim(PREPARING, pk=text.pk, at=now()) is not None

    tasks.sweep(at=now() + leases.LEASE + timedelta(seconds=1))

    text.refresh_from_db()
    assert text.state == Take.State.REFUSED
    assert (counting().take_id, counting().instead_of_id) == (good.pk, text.pk)


def test_takes_that_could_not_be_played_are_tried_again_after_an_upgrade(phone, assignment):
    """As by a version that could not read what WebKit's recorder writes."""
    take = phone.send(assignment, WEBKIT_TAKE.read_bytes())
    Take.objects.filter(pk=take.pk).update(
        state=Take.State.REFUSED, tries=3, reason="It could not be opened."
    )
    DBTaskResult.objects.all().delete()
    said = StringIO()

    call_command("prepare", "--again", stdout=said)

    take.refresh_from_db()
    assert said.getvalue() == "1 take is queued to be prepared again.\n"
    assert (take.state, take.tries, take.reason) == (Take.State.RECEIVED, 0, "")
    assert [row.task_path for row in DBTaskResult.objects.all()] == ["submissions.takes.tasks.prepare_take"]
    assert prepared(take) == Ended.READY
    assert take.seconds == pytest.approx(12, abs=0.1)


def test_the_command_says_what_it_needs_to_know():
    with pytest.raises(CommandError, match="prepare --again"):
        call_command("prepare")


class TestAsItCame:
    """What was received of a take that could not be prepared."""

    @pytest.fixture
    def refused(self, phone, assignment) -> Take:
        take = phone.send(assignment, WEBKIT_TAKE.read_bytes())
        Take.objects.filter(pk=take.pk).update(state=Take.State.REFUSED)
        return take

    def test_staff_save_or_play_it_and_the_listen_is_noted(self, refused, substitute, sign_in):
        client = sign_in(substitute.user)

        response = client.get(f"/takes/{refused.pk}/original")

        assert b"".join(response.streaming_content) == WEBKIT_TAKE.read_bytes()
        first = refused.seat.student.first_name.lower()
        assert response["Content-Disposition"] == f'attachment; filename="take-{first}-a"'
        assert response["Content-Type"] == "audio/mp4"
        assert response["X-Content-Type-Options"] == "nosniff"
        assert response["Cache-Control"] == "private, no-store"
        assert list(Listen.objects.values_list("listener", "take")) == [(substitute.user_id, refused.pk)]

    def test_a_part_of_it_is_sent_so_that_a_player_can_seek(self, refused, director, sign_in):
        response = sign_in(director.user).get(f"/takes/{refused.pk}/original", headers={"Range": "bytes=4-7"})

        assert (response.status_code, b"".join(response.streaming_content)) == (206, b"ftyp")

    def test_no_student_is_given_it(self, refused, phone):
        assert phone.client.get(f"/takes/{refused.pk}/original").status_code == 404
        assert Listen.objects.count() == 0

    def test_of_a_take_that_can_be_played_it_is_not_handed_out(self, good, director, sign_in):
        assert sign_in(director.user).get(f"/takes/{good.pk}/original").status_code == 404

    def test_one_that_is_gone_is_not_found(self, refused, director, sign_in):
        shutil.rmtree(storages["takes"].location)

        assert sign_in(director.user).get(f"/takes/{refused.pk}/original").status_code == 404

    def test_a_page_in_disguise_is_a_file_to_save(self, refused, director, sign_in):
        storages["takes"].delete(refused.original)
        storages["takes"].save(refused.original, ContentFile(b"<!doctype html><script>alert(1)</script>"))
        Take.objects.filter(pk=refused.pk).update(declared_bytes=40)

        response = sign_in(director.user).get(f"/takes/{refused.pk}/original")

        assert b"".join(response.streaming_content).startswith(b"<!doctype html>")
        assert response["Content-Type"] == "application/octet-stream"
        assert response["Content-Disposition"].startswith("attachment")

    def test_the_desk_offers_it(self, refused, phone, assignment, director, sign_in):
        Take.objects.filter(pk=refused.pk).update(state=Take.State.RECEIVED)
        turn_in(phone, assignment, refused)
        Take.objects.filter(pk=refused.pk).update(state=Take.State.REFUSED)

        page = sign_in(director.user).get(f"/assignments/{assignment.pk}/desk/{refused.seat_id}/")

        address = f"/takes/{refused.pk}/original"
        assert f'<a href="{address}" download>save it</a>' in page.content.decode()
        assert f'src="{address}"' in page.content.decode()

    def test_the_desk_says_that_an_earlier_one_counts_and_gives_the_later_one_as_it_came(
        self, phone, assignment, good, director, sign_in
    ):
        text = phone.send(assignment, TEXT)
        turn_in(phone, assignment, text)
        prepared(text)
        client = sign_in(director.user)

        page = client.get(f"/assignments/{assignment.pk}/desk/{good.seat_id}/").content.decode()
        line = client.get(f"/assignments/{assignment.pk}/desk/{good.seat_id}/heard/A/").content.decode()

        for shown in (page, line):
            assert "The take turned in last cannot be played, so the one before it counts." in shown
            assert f'href="/takes/{text.pk}/original" download>Save it as it came</a>' in shown
