"""The queue that wakes its workers, behind Django's tasks; and the cache that machines share."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.core.cache import DEFAULT_CACHE_ALIAS, cache, caches
from django.core.cache.backends.db import DatabaseCache
from django.core.management import call_command
from django.db import connection, transaction
from django.tasks.exceptions import InvalidTask
from django.utils.timezone import now

from bandroom import queues
from submissions.models import Take
from submissions.takes import tasks
from tests import factories
from tests.machines.conftest import wait_for
from tests.machines.noting import note, noted

pytestmark = [pytest.mark.machines, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def nothing_waits_or_is_noted():
    cache.clear()
    with connection.cursor() as cursor:
        cursor.execute("TRUNCATE procrastinate_jobs, procrastinate_workers CASCADE")


def messages(status: str) -> int:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM procrastinate_jobs WHERE status::text = %s", [status])
        return cursor.fetchone()[0]


def test_a_message_counts_when_its_transaction_does(machine):
    with transaction.atomic():
        note.enqueue("never")
        transaction.set_rollback(True)
    with transaction.atomic():
        note.enqueue("once")

    machine("one").work_once()

    assert noted() == ["once"]
    assert messages("todo") == messages("succeeded") == 0


def test_the_urgent_first_and_what_is_for_later_not_yet(machine):
    note.enqueue("third")
    note.using(priority=10).enqueue("first")
    note.using(priority=5).enqueue("second")
    note.using(run_after=now() + timedelta(hours=1)).enqueue("later")

    machine("one").work_once()

    assert noted() == ["first", "second", "third"]
    assert messages("todo") == 1


def test_a_queue_that_nobody_reads_is_refused():
    with pytest.raises(InvalidTask, match="Queue 'nowhere' is not valid"):
        note.using(queue_name="nowhere")


def test_a_message_of_a_killed_worker_comes_back(machine, seat, section):
    """Whatever it was about: the row of the work decides whether there is something to do."""
    one = machine("one")
    one.work()
    take = Take.objects.create(
        assignment=factories.make_assignment(band=section.band, sections=[section]),
        seat=seat,
        lines=["A"],
        state=Take.State.RECEIVED,
        declared_at=now(),
        received_at=now(),
        declared_bytes=1,
        declared_sha256="0" * 64,
        original="not/there",
    )
    with transaction.atomic():
        # The worker takes the message and waits for this row.
        Take.objects.select_for_update().get(pk=take.pk)
        with ThreadPoolExecutor(1) as elsewhere:
            elsewhere.submit(queue_and_hang_up, take).result()
        wait_for(lambda: messages("doing"))
        one.kill()
    assert queues.chosen().bring_back() == 0
    with connection.cursor() as cursor:
        cursor.execute("UPDATE procrastinate_workers SET last_heartbeat = now() - interval '11 seconds'")

    assert queues.chosen().bring_back() == 1
    assert queues.chosen().bring_back() == 0
    assert (messages("todo"), messages("doing")) == (1, 0)


def test_a_database_that_hangs_up_is_waited_for(machine):
    """As when it is restarted: every connection is closed under the worker, also the one that wakes it."""
    machine("one").work()
    note.enqueue("before")
    wait_for(lambda: noted() == ["before"])

    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
            "WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
    note.enqueue("after")

    wait_for(lambda: noted() == ["before", "after"])


def queue_and_hang_up(take: Take) -> None:
    tasks.queue_preparing(take)
    connection.close()


def test_old_messages_are_forgotten_failed_ones_too(machine):
    note.enqueue("never")
    with connection.cursor() as cursor:
        cursor.execute("UPDATE procrastinate_jobs SET args = '{}'")
    machine("one").work_once()
    assert messages("failed") == 1

    queues.chosen().forget_old(at=now())
    assert messages("failed") == 1
    with connection.cursor() as cursor:
        cursor.execute("UPDATE procrastinate_events SET at = at - interval '15 days'")
    queues.chosen().forget_old(at=now())
    assert messages("failed") == 0


def test_machines_share_a_cache_whose_table_migrate_makes():
    assert isinstance(caches[DEFAULT_CACHE_ALIAS], DatabaseCache)
    with connection.cursor() as cursor:
        cursor.execute("DROP TABLE bandroom_cache")

    call_command("migrate", verbosity=0)
    cache.set("word", "one")

    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM bandroom_cache")
        assert cursor.fetchone() == (1,)
    assert cache.get("word") == "one"
