"""A recording is announced before its bytes: stamped once, refused plainly, the same however often."""

from datetime import timedelta

import pytest
import time_machine
from django.utils.timezone import now

from bandroom.people.models import RecordingPermission
from submissions.models import Routes, Take
from tests import factories

pytestmark = pytest.mark.django_db
SOUND = b"half a line of long tones" * 40


def says(response) -> str:
    return response.json()["says"]


def test_a_declaration_is_stamped_and_answered_with_where_the_take_stands(phone, assignment, seat):
    declaration = phone.declaration(SOUND, lines=["A", "B"], lead_seconds=2.5)
    before = now()

    response = phone.declare(assignment, declaration)

    assert response.status_code == 201
    assert response.headers["Cache-Control"] == "private, no-store"
    assert response.json() == {
        "id": declaration["id"],
        "state": "declared",
        "words": "sending",
        "says": "",
        "lines": ["A", "B"],
        "origin": "recorder",
        "bytes": len(SOUND),
        "offset": 0,
        "sha256": None,
        "seconds": None,
        "findings": [],
        "peaks": [],
        "beat_one_seconds": None,
        "sound": None,
    }
    take = Take.objects.get()
    assert (take.seat, take.assignment, take.lead_seconds) == (seat, assignment, 2.5)
    assert before <= take.declared_at <= now()


def test_the_tempo_that_was_counted_off_is_kept_and_nonsense_of_it_left_out(phone, assignment):
    for tempos, kept in [
        ({"A": 66, "B": 80}, {"A": 66}),
        ({"A": "fast"}, {}),
        ({"A": 5}, {}),
        ([66], {}),
        (None, {}),
    ]:
        assert phone.declare(assignment, phone.declaration(SOUND, tempos=tempos)).status_code == 201
        assert Take.objects.latest("declared_at").tempos == kept


def test_the_same_declaration_again_changes_nothing(phone, assignment):
    declaration = phone.declaration(SOUND)
    first = phone.declare(assignment, declaration)
    stamped = Take.objects.get().declared_at

    again = phone.declare(assignment, declaration | {"phone_time": (now() + timedelta(hours=1)).isoformat()})

    assert (again.status_code, again.json()) == (200, first.json())
    assert Take.objects.get().declared_at == stamped


def test_the_same_declaration_again_is_answered_after_closing(phone, assignment):
    declaration = phone.declaration(SOUND)
    phone.declare(assignment, declaration)

    with time_machine.travel(now() + timedelta(days=3)):
        assert phone.declare(assignment, declaration).status_code == 200


@pytest.mark.parametrize("other", [{"sha256": "0" * 64}, {"bytes": 7}, {"lines": ["B"]}])
def test_an_id_stands_for_one_file(phone, assignment, other):
    declaration = phone.declaration(SOUND)
    phone.declare(assignment, declaration)

    response = phone.declare(assignment, declaration | other)

    assert response.status_code == 409
    assert says(response) == "Another recording was sent under this name; keep this one and send it as new."
    assert Take.objects.get().declared_sha256 == declaration["sha256"]


def test_another_students_id_does_not_exist(phone, assignment, section, make_phone):
    declaration = phone.declaration(SOUND)
    phone.declare(assignment, declaration)
    classmate = make_phone(factories.make_seat(section=section))

    response = classmate.declare(assignment, declaration | {"student": classmate.student_pk})

    assert response.status_code == 404
    assert Take.objects.count() == 1


def test_a_phones_clock_a_day_wrong_is_put_right(phone, assignment):
    """Recorded two minutes ago; the phone believes it is yesterday."""
    phones_now = now() - timedelta(days=1)
    declaration = phone.declaration(
        SOUND,
        recorded_at=(phones_now - timedelta(minutes=2)).isoformat(),
        phone_time=phones_now.isoformat(),
    )

    phone.declare(assignment, declaration)

    take = Take.objects.get()
    ago = take.declared_at - take.recorded_at
    assert timedelta(seconds=115) < ago < timedelta(seconds=125)


def test_nothing_is_recorded_in_the_future_or_at_the_end_of_time(phone, assignment):
    ahead = phone.declaration(SOUND, recorded_at=(now() + timedelta(days=9)).isoformat())
    absurd = phone.declaration(SOUND, recorded_at="9999-12-31T23:59:59Z", phone_time="0001-01-01T00:00:00Z")

    assert phone.declare(assignment, ahead).status_code == 201
    assert phone.declare(assignment, absurd).status_code == 201
    first, second = Take.objects.order_by("declared_at")
    assert first.recorded_at == first.declared_at
    assert second.recorded_at is None


# Refusals.


def test_an_empty_file(phone, assignment):
    response = phone.declare(assignment, phone.declaration(b""))

    assert response.status_code == 422
    assert says(response) == "This file is empty; record it again or choose another file."
    assert not Take.objects.exists()


def test_a_file_of_500_megabytes(phone, assignment):
    response = phone.declare(assignment, phone.declaration(SOUND, bytes=500 * 1024 * 1024))

    assert response.status_code == 413
    assert says(response) == "This file has 500 MB and the most is 300 MB; cut it, or send its sound alone."


def test_one_second_before_and_at_the_closing_instant(phone, section):
    assignment = factories.make_assignment(band=section.band, sections=[section])
    closes = assignment.postings.get().closes_at

    with time_machine.travel(closes - timedelta(seconds=1), tick=False):
        assert phone.declare(assignment, phone.declaration(SOUND)).status_code == 201
    with time_machine.travel(closes, tick=False):
        response = phone.declare(assignment, phone.declaration(SOUND))
    assert response.status_code == 409
    assert says(response) == (
        "This assignment is closed; your recording stays on this phone, so ask your director."
    )


def test_before_it_opens_there_is_no_assignment(phone, section):
    later = factories.make_assignment(
        band=section.band, sections=[section], opens_at=now() + timedelta(hours=1)
    )

    assert phone.declare(later, phone.declaration(SOUND)).status_code == 404


def test_a_withdrawn_assignment_does_not_exist(phone, assignment):
    assignment.withdrawn_at = now()
    assignment.save(update_fields=["withdrawn_at"])

    assert phone.declare(assignment, phone.declaration(SOUND)).status_code == 404


def test_an_assignment_that_is_only_played_live(phone, assignment):
    assignment.routes = Routes.CHECK_IN
    assignment.save(update_fields=["routes"])

    response = phone.declare(assignment, phone.declaration(SOUND))

    assert response.status_code == 403
    assert says(response) == "This assignment is played live; book a check-in instead."


@pytest.mark.parametrize("permission", [RecordingPermission.PENDING, RecordingPermission.REFUSED])
def test_a_student_without_permission_to_record(section, assignment, make_phone, permission):
    phone = make_phone(factories.make_seat(section=section, recording=permission))

    response = phone.declare(assignment, phone.declaration(SOUND))

    assert response.status_code == 403
    assert says(response) == "Your school has not agreed to recordings of you; book a check-in instead."


def test_a_classmate_signed_in_since_the_page_was_loaded(phone, assignment, section):
    """On a shared computer: the page is one child's, the cookie the next one's."""
    other = factories.make_seat(section=section)

    response = phone.declare(assignment, phone.declaration(SOUND, student=other.student_id))

    assert response.status_code == 401
    assert says(response) == (
        "Somebody else is signed in on this computer now; sign in again as yourself. Nothing is lost."
    )
    assert not Take.objects.exists()


def test_a_line_that_is_not_asked_for(phone, assignment):
    response = phone.declare(assignment, phone.declaration(SOUND, lines=["Z"]))

    assert response.status_code == 422
    assert says(response) == "Line Z is not asked for in this assignment; load the page again."


def test_more_takes_than_anybody_plays(phone, assignment, settings):
    settings.TAKES_PER_ASSIGNMENT = 2
    for _ in range(2):
        assert phone.declare(assignment, phone.declaration(SOUND)).status_code == 201

    response = phone.declare(assignment, phone.declaration(SOUND))

    assert response.status_code == 409
    assert says(response) == "You have sent 2 takes for this assignment; turn in the best of them."


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"id": "../../etc/passwd"}, "id"),
        ({"id": None}, "id"),
        ({"student": "<b>me</b>"}, "student"),
        ({"bytes": -1}, "bytes"),
        ({"bytes": "many"}, "bytes"),
        ({"sha256": "A" * 64}, "sha256"),
        ({"sha256": "<script>"}, "sha256"),
        ({"origin": "<i>radio</i>"}, "origin"),
        ({"lines": []}, "lines"),
        ({"lines": "A"}, "lines"),
        ({"lines": ["A", "A"]}, "lines"),
        ({"lines": [1]}, "lines"),
        ({"recorded_at": "yesterday"}, "recorded_at"),
        ({"lead_seconds": -1}, "lead_seconds"),
        ({"lead_seconds": "NaN"}, "lead_seconds"),
    ],
)
def test_a_declaration_that_makes_no_sense_names_the_field(phone, assignment, wrong, field):
    response = phone.declare(assignment, phone.declaration(SOUND, **wrong))

    assert response.status_code == 422
    assert says(response) == (
        f"The school's computer did not understand “{field}”; load the page again and go on."
    )
    assert not Take.objects.exists()


NO_JSON = (b"[" * 60_000, b'{"a":' * 12_000, b"\xff\xfe", b"null", b"{" + b"9" * 5_000)


@pytest.mark.parametrize("body", NO_JSON, ids=["deep", "deep objects", "no text", "nothing", "broken"])
def test_json_that_is_too_deep_or_none_is_answered_with_a_sentence(phone, assignment, body: bytes):
    response = phone.client.post(
        f"/work/{assignment.pk}/takes/", body, content_type="application/json", headers=phone.headers
    )

    assert response.status_code == 422
    assert says(response) == "The school's computer did not understand that; load the page again and go on."
