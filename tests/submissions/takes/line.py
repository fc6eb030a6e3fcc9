"""A student's connection to a running server, over real sockets and the standard library alone."""

import hashlib
import json
import urllib.error
import urllib.request
import uuid
from dataclasses import dataclass
from http import HTTPStatus

from django.test import Client

from bandroom.people.models import Seat
from submissions.models import Assignment
from tests.submissions.takes.conftest import CHUNK, TUS

TOKEN = "t" * 32


@dataclass(frozen=True, slots=True)
class Line:
    """One signed-in student's connection to a running server."""

    server: str
    cookies: str
    student: int

    @property
    def headers(self) -> dict[str, str]:
        return {
            "Cookie": self.cookies,
            "X-CSRFToken": TOKEN,
            "X-Requested-With": "bandroom",
            "Origin": self.server,
        }

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str):
        """Status, headers and body."""
        request = urllib.request.Request(  # noqa: S310 - our own server
            self.server + path, data=body, method=method, headers=self.headers | headers
        )
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:  # noqa: S310
                return answer.status, answer.headers, answer.read()
        except urllib.error.HTTPError as error:
            with error:
                return error.code, error.headers, error.read()

    def declare(self, assignment: Assignment, content: bytes) -> str:
        declaration = {
            "id": str(uuid.uuid4()),
            "student": self.student,
            "lines": ["A"],
            "bytes": len(content),
            "sha256": hashlib.sha256(content).hexdigest(),
            "origin": "recorder",
        }
        body = json.dumps(declaration).encode()
        status, _headers, answer = self.ask(
            "POST", f"/work/{assignment.pk}/takes/", body, **{"Content-Type": "application/json"}
        )
        assert status == HTTPStatus.CREATED, answer
        return declaration["id"]

    def patch(self, take: str, offset: int, content: bytes):
        headers = TUS | {"Upload-Offset": str(offset), "Content-Type": CHUNK}
        return self.ask("PATCH", f"/uploads/{take}/", content, **headers)

    def offset(self, take: str) -> int:
        return int(self.ask("HEAD", f"/uploads/{take}/", **TUS)[1]["Upload-Offset"])

    def receipt(self, take: str) -> str | None:
        return json.loads(self.ask("GET", f"/takes/{take}/")[2])["sha256"]


def connect(server: str, seat: Seat, signed_in: Client) -> Line:
    session = signed_in.cookies["sessionid"].value
    return Line(server=server, cookies=f"sessionid={session}; csrftoken={TOKEN}", student=seat.student_id)
