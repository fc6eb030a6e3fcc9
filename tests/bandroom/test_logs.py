"""The log: one JSON line an event, one identifier a request, nothing about a person."""

import json
import logging
from collections.abc import Callable, Iterator
from io import StringIO

import pytest
from django.core.exceptions import SuspiciousOperation
from django.http import HttpRequest, HttpResponse
from django.test import Client, override_settings
from django.urls import path, reverse

from bandroom import logs
from tests.factories import make_user


def broken(request: HttpRequest, secret: str) -> HttpResponse:
    try:
        int(f"{request.POST['name']}\nDETAIL: Key (name)=(Ada Quill)")
    except ValueError as error:
        raise RuntimeError("Nothing was saved for 'Ada Quill'\nDETAIL: Key (name)=(Ada Quill)") from error
    raise AssertionError


def fine(request: HttpRequest, secret: str) -> HttpResponse:
    logging.getLogger("bandroom.work").warning("Brought back %d piece(s) of lost work", 2)
    return HttpResponse("fine")


def hostile(request: HttpRequest, secret: str) -> HttpResponse:
    raise SuspiciousOperation("Ada Quill")


urlpatterns = [
    path("broken/<secret>/", broken, name="broken"),
    path("fine/<secret>/", fine, name="fine"),
    path("hostile/<secret>/", hostile, name="hostile"),
]


@pytest.fixture
def lines() -> Iterator[Callable[[], list[dict[str, object]]]]:
    """What a school's server would have written until now. The suite's own levels are the server's."""
    handler = logging.StreamHandler(StringIO())
    handler.setFormatter(logs.JsonFormatter())
    handler.addFilter(logs.NoChatter())
    logging.root.addHandler(handler)
    yield lambda: [json.loads(line) for line in handler.stream.getvalue().splitlines()]
    logging.root.removeHandler(handler)


@pytest.fixture
def client() -> Iterator[Client]:
    with override_settings(ROOT_URLCONF=__name__):
        yield Client(raise_request_exception=False)


def test_an_answered_request_is_one_line_with_its_page_and_identifier(client, lines):
    answer = client.get("/fine/calendar-secret/?student=Ada", headers={"X-Request-ID": "forged"})

    work, told = lines()
    assert (told["event"], told["page"], told["method"], told["status"]) == ("answered", "fine", "GET", 200)
    assert told["request"] == work["request"] == answer["X-Request-ID"]
    assert len(told["request"]) == 16
    assert set(told) == {"at", "level", "logger", "event", "request", "page", "method", "status", "ms"}
    assert (work["event"], work["level"]) == ("Brought back 2 piece(s) of lost work", "warning")


def test_two_requests_have_two_identifiers(client, lines):
    first, second = (client.get("/fine/x/")["X-Request-ID"] for _ in range(2))

    assert first != second
    assert "request" not in json.loads(logs.JsonFormatter().format(logging.makeLogRecord({"msg": "later"})))


def test_a_failure_tells_where_and_what_but_nothing_that_was_typed(client, lines):
    answer = client.post("/broken/calendar-secret/", {"name": "Ada Quill"})

    assert answer.status_code == 500
    (told,) = lines()
    assert (told["event"], told["page"], told["level"]) == ("Internal Server Error", "broken", "error")
    assert told["error"]["type"] == "builtins.RuntimeError"
    assert told["error"]["says"] == "Nothing was saved for …"
    assert told["error"]["because"]["says"] == "invalid literal for int() with base 10: …"
    assert told["error"]["where"][-1].endswith(" broken")
    assert "Ada" not in json.dumps(told)
    assert "secret" not in json.dumps(told)


@pytest.mark.django_db  # whoever closes an answer closes the database
def test_static_files_are_quiet(client, lines):
    answer = client.get("/static/bandroom/js/confirm.js")
    assert answer.status_code == 200
    answer.close()

    assert lines() == []


def test_refusals_are_quiet(client, lines):
    assert client.get("/nowhere/").status_code == 404
    assert client.get("/hostile/secret/").status_code == 400

    assert lines() == []


@override_settings(ALLOWED_HOSTS=["band.school.example"])
def test_a_wrong_host_is_told_since_it_may_be_a_setting(client, lines):
    assert client.get("/fine/x/", headers={"host": "elsewhere.example"}).status_code == 400

    (told,) = lines()
    assert told["logger"] == "django.security.DisallowedHost"


@pytest.mark.django_db
def test_wrong_tries_at_signing_in_leave_no_name_and_no_address(lines):
    ada = make_user(sign_in_name="ada-11")
    door = Client()
    form = {"username": ada.sign_in_name, "word_1": "wrong", "word_2": "wrong", "word_3": "wrong"}

    statuses = {door.post(reverse("people:sign-in"), form).status_code for _ in range(12)}

    assert statuses <= {200, 422, 429}
    assert "ada" not in json.dumps(lines())
    assert "127.0.0.1" not in json.dumps(lines())


@pytest.mark.parametrize("name", ["django.tasks", "django_tasks_db"])
def test_work_that_goes_well_is_not_told_task_by_task(name, lines):
    queue = logging.getLogger(name)
    queue.setLevel(logging.INFO)  # as the queue's worker does

    queue.info("Task id=%s path=%s state=%s", 1, "prepare", "RUNNING")
    queue.error("Task id=%s path=%s state=%s", 1, "prepare", "FAILED")

    assert [line["event"] for line in lines()] == ["Task id=1 path=prepare state=FAILED"]
