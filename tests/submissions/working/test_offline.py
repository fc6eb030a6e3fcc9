"""What the service worker is told, and which answers it may keep."""

import json
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from django.utils.timezone import now

from bandroom.people.models import Band, Membership, Seat, Section, User
from submissions.models import Assignment, Return
from submissions.turn_ins import services as turn_ins
from submissions.working.offline import KEEPING_HEADER, SHARED_HEADER, STUDENT_HEADER, part_names
from submissions.working.words import recorder_words, work_words
from tests import factories

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    return factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=1))


def orders(client: Client) -> dict:
    body = client.get("/sw.js").content.decode()
    first = body.splitlines()[0]
    return json.loads(first.removeprefix("self.ORDERS = ").removesuffix(";"))


def test_the_worker_is_a_script_that_every_visit_asks_for_again(client: Client):
    response = client.get("/sw.js")
    assert response["Content-Type"] == "text/javascript; charset=utf-8"
    assert "no-store" in response["Cache-Control"]
    assert "script-src 'self'" in response["Content-Security-Policy"]
    assert client.post("/sw.js").status_code == 405


def test_its_orders_name_every_part_and_every_door(client: Client):
    told = orders(client)
    assert told["parts"] == [f"/static/{name}" for name in part_names()]
    assert "/static/submissions/js/recording/meter_worklet.js" in told["parts"]
    assert not any("desk" in part for part in told["parts"])
    assert told["doors"] == ["/sign-in/", "/sign-in/staff/", "/sign-out/"]
    assert told["hashed"] is False
    assert told["pages"] == r"^/work/(\d+/(record/\w+/|steps/\w+/(\?line=\w)?)?)?$"


def test_every_script_a_student_page_imports_is_among_the_parts():
    names = set(part_names())
    for name in names:
        if name.endswith(".js"):
            with open(finders.find(name), encoding="utf-8") as file:
                imported = [
                    line.split('"')[1] for line in file if line.startswith("import ") and ".js" in line
                ]
            folder = name.rpartition("/")[0].split("/")
            for path in imported:
                steps = list(folder)
                for step in path.split("/"):
                    if step == "..":
                        steps.pop()
                    elif step != ".":
                        steps.append(step)
                assert "/".join(steps) in names, f"{name} imports {path}"


def test_a_students_own_pages_name_the_student_and_stay_out_of_the_browsers_cache(
    seat: Seat, assignment: Assignment, sign_in: SignIn
):
    client = sign_in(seat.student)
    for path in ("/work/", f"/work/{assignment.pk}/", f"/work/{assignment.pk}/record/A/"):
        response = client.get(path)
        assert response[STUDENT_HEADER] == str(seat.student.pk), path
        assert response["Cache-Control"] == "private, no-store", path
        assert SHARED_HEADER not in response, path


def test_on_a_shared_laptop_the_pages_say_so(seat: Seat, sign_in: SignIn):
    client = sign_in(seat.student)
    session = client.session
    session.set_expiry(0)
    session.save()
    assert client.get("/work/")[SHARED_HEADER] == "yes"


def test_nobody_elses_answer_may_be_kept(
    seat: Seat, assignment: Assignment, director: Membership, client: Client, sign_in: SignIn
):
    student = sign_in(seat.student)
    for response in (
        client.get("/work/"),
        client.get("/sign-in/"),
        student.get("/work/999/"),
        student.get("/"),
        sign_in(director.user).get("/week/"),
        sign_in(director.user).get("/work/"),
    ):
        assert STUDENT_HEADER not in response


def test_a_page_kept_for_later_is_not_a_page_read(
    seat: Seat, assignment: Assignment, director: Membership, sign_in: SignIn
):
    row = turn_ins.open_live(
        seat=seat, posting=assignment.postings.get(), by=director.user, at=now() - timedelta(hours=1)
    )
    back = Return.objects.create(
        turn_in=row, attempt=1, worked="Steady", returned_at=now(), returned_by=director.user
    )
    client = sign_in(seat.student)
    client.get(f"/work/{assignment.pk}/", headers={KEEPING_HEADER: "yes"})
    back.refresh_from_db()
    assert back.seen_at is None
    client.get(f"/work/{assignment.pk}/")
    back.refresh_from_db()
    assert back.seen_at is not None


def test_the_page_for_what_was_not_kept_names_nobody(client: Client, seat: Seat):
    text = client.get("/work/not-here/en/").content.decode()
    assert "No internet right now" in text
    assert seat.student.first_name not in text
    assert client.post("/work/not-here/en/").status_code == 405


def test_the_page_for_what_was_not_kept_is_there_in_every_language(client: Client):
    spanish = client.get("/work/not-here/es/", headers={"Accept-Language": "en"})
    assert '<html lang="es">' in spanish.content.decode()
    assert spanish["Content-Language"] == "es"
    assert client.get("/work/not-here/xx/").status_code == 404


def test_every_sentence_the_scripts_say_is_a_sentence():
    def sentences(words: object) -> list[str]:
        if isinstance(words, dict):
            return [found for value in words.values() for found in sentences(value)]
        return list(words) if isinstance(words, list) else [str(words)]

    said = sentences(recorder_words()) + sentences(work_words())
    assert len(said) > 80
    assert all(sentence.strip() == sentence and sentence for sentence in said)
