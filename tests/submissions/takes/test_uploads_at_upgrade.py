"""The version before had half-sent takes in a folder of one machine: they start again, none is lost."""

import hashlib
import uuid
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.utils.timezone import now

from submissions.models import Take

pytestmark = pytest.mark.django_db(transaction=True)
BEFORE = [("submissions", "0004_one_hearing_per_take")]
SOUND = bytes(range(256)) * 40


@pytest.fixture
def at_the_version_before():
    executor = MigrationExecutor(connection)
    latest = [leaf for leaf in executor.loader.graph.leaf_nodes() if leaf[0] == "submissions"]
    executor.migrate(BEFORE)
    yield lambda: MigrationExecutor(connection).migrate(latest)
    MigrationExecutor(connection).migrate(latest)


def test_a_half_sent_take_is_sent_again_and_gets_its_receipt(phone, seat, assignment, at_the_version_before):
    upgrade = at_the_version_before
    pk = uuid.uuid4()
    old = MigrationExecutor(connection).loader.project_state(BEFORE).apps.get_model("submissions", "Take")
    shared = {"assignment_id": assignment.pk, "seat_id": seat.pk, "lines": ["A"], "declared_at": now()}
    shared |= {"declared_bytes": len(SOUND), "declared_sha256": hashlib.sha256(SOUND).hexdigest()}
    storages["takes"].save("ab/half-stored", ContentFile(SOUND[:99]))
    old.objects.create(
        id=pk,
        state="declared",
        received_bytes=len(SOUND),
        original="ab/half-stored",
        **shared,
    )
    storages["takes"].save("ab/whole", ContentFile(SOUND))
    whole = {"received_bytes": len(SOUND), "received_at": now(), "original": "ab/whole", "lease_until": now()}
    kept = old.objects.create(id=uuid.uuid4(), state="received", **whole, **shared)
    folder = Path(settings.VAR_DIR) / "uploads"
    folder.mkdir()
    (folder / pk.hex).write_bytes(SOUND)

    upgrade()

    assert not folder.exists()
    assert not storages["takes"].exists("ab/half-stored")
    assert phone.head(str(pk)).headers["Upload-Offset"] == "0"
    assert phone.patch(str(pk), 0, SOUND).status_code == 204
    assert phone.state(str(pk))["sha256"] == hashlib.sha256(SOUND).hexdigest()
    assert Take.objects.filter(pk=kept.pk, state="received", **whole).exists()
