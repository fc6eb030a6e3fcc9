"""A student with a phone, and an assignment that is open now."""

import hashlib
import json
import shutil
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.storage import storages
from django.test import Client
from django.utils.timezone import now

from bandroom.people.models import Membership, Seat, Section
from submissions.models import Assignment, Take
from submissions.takes import tasks
from tests import factories

TUS = {"Tus-Resumable": "1.0.0"}
CHUNK = "application/offset+octet-stream"


@pytest.fixture(autouse=True)
def empty_disk() -> None:
    """Each test starts without stored takes and without half uploads."""
    for folder in (Path(settings.WORK_DIR), Path(storages["takes"].location)):
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)


@pytest.fixture
def assignment(section: Section) -> Assignment:
    """Opened yesterday, due tomorrow, closes the day after."""
    return factories.make_assignment(
        band=section.band,
        sections=[section],
        opens_at=now() - timedelta(days=1),
        due_at=now() + timedelta(days=1),
        closes_at=now() + timedelta(days=2),
    )


@dataclass(frozen=True, slots=True)
class Phone:
    """What a student's page does, request by request."""

    client: Client
    student_pk: int
    headers: dict[str, str] = field(default_factory=lambda: {"X-Requested-With": "bandroom"})

    def declaration(self, content: bytes, **other: Any) -> dict[str, Any]:
        return {
            "id": str(uuid.uuid4()),
            "student": self.student_pk,
            "lines": ["A"],
            "bytes": len(content),
            "sha256": hashlib.sha256(content).hexdigest(),
            "origin": "recorder",
            "recorded_at": None,
            "phone_time": now().isoformat(),
        } | other

    def post(self, address: str, data: Any):
        return self.client.post(
            address, json.dumps(data), content_type="application/json", headers=self.headers
        )

    def declare(self, assignment: Assignment, declaration: dict[str, Any]):
        return self.post(f"/work/{assignment.pk}/takes/", declaration)

    def turn_in(self, assignment: Assignment, **data: Any):
        data = {"student": self.student_pk, "phone_time": now().isoformat()} | data
        return self.post(f"/work/{assignment.pk}/turn-in/", data)

    def head(self, take: str):
        return self.client.head(f"/uploads/{take}/", headers=TUS | self.headers)

    def patch(self, take: str, offset: int, content: bytes, **headers: str):
        return self.client.patch(
            f"/uploads/{take}/",
            content,
            content_type=CHUNK,
            headers=TUS | {"Upload-Offset": str(offset)} | self.headers | headers,
            # The test client leaves both out of a request without a body; browsers send them.
            CONTENT_TYPE=CHUNK,
            CONTENT_LENGTH=str(len(content)),
        )

    def state(self, take: str) -> dict[str, Any]:
        return self.client.get(f"/takes/{take}/", headers=self.headers).json()

    def send(self, assignment: Assignment, content: bytes, **other: Any) -> Take:
        """Declare and send a whole file; returns the row."""
        declaration = self.declaration(content, **other)
        assert self.declare(assignment, declaration).status_code == 201
        assert self.patch(declaration["id"], 0, content).status_code == 204
        tasks.finish_uploads(at=now())  # as the worker does: it clears up
        return Take.objects.get(pk=declaration["id"])


@pytest.fixture
def make_phone(sign_in: Callable[..., Client]) -> Callable[[Seat], Phone]:
    return lambda seat: Phone(client=sign_in(seat.student), student_pk=seat.student_id)


@pytest.fixture
def phone(seat: Seat, make_phone: Callable[[Seat], Phone]) -> Phone:
    return make_phone(seat)


@pytest.fixture
def staff(director: Membership, sign_in: Callable[..., Client]) -> Client:
    return sign_in(director.user)
