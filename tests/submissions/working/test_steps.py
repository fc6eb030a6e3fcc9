"""The steps before a take: each page does its work, keeps what was done, and lets no stranger in."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.test import Client
from django.utils.timezone import now

from bandroom.people.models import Band, Membership, RecordingPermission, Seat, Section, User
from exercises.models import ExerciseLine
from submissions.models import Assignment, CountingTake, Posting, Step, StepDone, Take, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories

pytestmark = pytest.mark.django_db
SignIn = Callable[[User], Client]

#: In G major for an alto sax (concert B flat): F sharp by the key, F natural by a sign that is carried, F
#: sharp again after the bar line. Altered, counted by hand: 1, 2, 4, 6 in written pitch.
#:  concert  Bb  A  |  Ab  Ab  |  A   C        written  G  F#  |  F(nat)  F(carried)  |  F#  A
CAREFUL = [["Bb3", "A3"], ["Ab3", "Ab3"], ["A3", "C4"]]


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    return factories.make_assignment(band=band, sections=[section], opens_at=now() - timedelta(days=1))


@pytest.fixture
def careful(assignment: Assignment) -> Assignment:
    bars = [[{"pitch": pitch, "beats": "2"} for pitch in bar] for bar in CAREFUL]
    line = assignment.exercise.lines.get(label="A")
    ExerciseLine.objects.filter(pk=line.pk).update(score=line.score | {"bars": bars})
    return assignment


@pytest.fixture
def sax(section: Section, sign_in: SignIn) -> Client:
    return sign_in(factories.make_seat(section=section, instrument="alto_sax").student)


@pytest.fixture
def student(seat: Seat, sign_in: SignIn) -> Client:
    return sign_in(seat.student)


def page(client: Client, url: str) -> str:
    response = client.get(url)
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


def strip_of(html: str) -> dict[str, str]:
    """Each cell of the strip with the word it says."""
    nav = html.split('aria-label="Steps">')[1].split("</nav>")[0]
    cells = {}
    for cell in nav.split("<li")[1:]:
        name = cell.split("<b>")[1].split("</b>")[0]
        says = cell.split('<span class="steps__says">')[1].split("</span></a>")[0]
        cells[name] = says.replace('<span class="vh">: </span>', "")
    return cells


# The strip -----------------------------------------------------------------------------------------------


def test_the_strip_leads_through_every_step_and_forces_none(student: Client, assignment: Assignment):
    html = page(student, f"/work/{assignment.pk}/")
    assert list(strip_of(html)) == [
        "Get ready",
        "Find the signs",
        "Say the names",
        "Finger it",
        "Play along",
        "Record line A",
        "Record line B",
        "Turn in",
    ]
    assert set(strip_of(html).values()) == {""}
    for step in Step:
        assert student.get(f"/work/{assignment.pk}/steps/{step}/").status_code == 200
    assert not StepDone.objects.exists(), "looking is not doing"


def test_a_step_the_director_asks_for_comes_before_recording_and_no_other_does(
    student: Client, assignment: Assignment
):
    record = f"/work/{assignment.pk}/record/A/"
    assert "data-recorder" in student.get(record).content.decode()
    Assignment.objects.update(first_steps=["names"])
    for path in (record, f"/work/{assignment.pk}/"):
        html = page(student, path)
        assert "Your director asks you to do this before you record." in html
        assert f'<a class="btn" href="/work/{assignment.pk}/steps/names/">Say the names</a>' in html
        assert "data-recorder" not in html
        assert "data-file" not in html
    for label in assignment.lines:
        student.post(f"/work/{assignment.pk}/steps/names/do/", {"line": label})
    assert "data-recorder" in student.get(record).content.decode()
    assert "before you record" not in page(student, f"/work/{assignment.pk}/")


def test_a_step_that_an_instrument_does_not_have_is_not_asked_of_it(
    section: Section, assignment: Assignment, sign_in: SignIn
):
    Assignment.objects.update(first_steps=["signs"])
    drummer = sign_in(factories.make_seat(section=section, instrument="snare").student)
    assert "before you record" not in page(drummer, f"/work/{assignment.pk}/")


def test_a_drum_has_no_letter_names_and_no_signs(section: Section, assignment: Assignment, sign_in: SignIn):
    drummer = sign_in(factories.make_seat(section=section, instrument="snare").student)
    html = page(drummer, f"/work/{assignment.pk}/")
    assert list(strip_of(html))[:3] == ["Get ready", "Count it", "Play along"]
    assert drummer.get(f"/work/{assignment.pk}/steps/signs/").status_code == 404
    assert "Count it out loud" in page(drummer, f"/work/{assignment.pk}/steps/names/")


def test_who_may_not_record_is_led_to_a_check_in(student: Client, assignment: Assignment):
    Membership.objects.update(recording=RecordingPermission.PENDING)
    cells = list(strip_of(page(student, f"/work/{assignment.pk}/steps/play/")))
    assert cells[-1] == "Play it live"
    assert not any(cell.startswith("Record") for cell in cells)


def test_a_counting_take_closes_its_line_in_the_strip(student: Client, assignment: Assignment, seat: Seat):
    take = Take.objects.create(
        assignment=assignment,
        seat=seat,
        lines=["B"],
        state=Take.State.RECEIVED,
        declared_at=now(),
        declared_bytes=1,
        declared_sha256="0" * 64,
    )
    turn_ins.turn_in(seat=seat, posting=assignment.postings.get(), takes={"B": take}, at=now())
    cells = strip_of(page(student, f"/work/{assignment.pk}/steps/ready/"))
    assert (cells["Record line A"], cells["Record line B"], cells["Turn in"]) == (
        "",
        "turned in",
        "in part",
    )
    assert CountingTake.objects.count() == 1
    TurnIn.objects.update(state=TurnIn.State.REDO)
    cells = strip_of(page(student, f"/work/{assignment.pk}/steps/ready/"))
    assert (cells["Record line B"], cells["Turn in"]) == ("", "play again")


# Get ready -----------------------------------------------------------------------------------------------


def test_the_checklist_is_the_instruments_own_with_its_tuning_note(student: Client, sax: Client, assignment):
    clarinet = page(student, f"/work/{assignment.pk}/steps/ready/")
    assert "Wet your reed." in clarinet
    assert "Play one long C to tune. The band calls it concert B flat." in clarinet
    alto = page(sax, f"/work/{assignment.pk}/steps/ready/")
    assert "Hook on your strap." in alto
    assert "Play one long G to tune." in alto
    assert "Does it hurt? Stop and rest." in alto


def test_ticks_are_kept_and_all_of_them_finish_the_step(student: Client, assignment: Assignment):
    url = f"/work/{assignment.pk}/steps/ready/"
    items = [
        "Wet your reed.",
        "Line up the reed with the tip of the mouthpiece.",
        "Sit tall. Feet flat, shoulders down.",
        "Play one long C to tune. The band calls it concert B flat.",
    ]
    student.post(f"{url}do/", {"item": [items[0], "something else"]})
    row = StepDone.objects.get()
    assert (row.detail, row.finished) == ({"ticked": [items[0]]}, False)
    html = page(student, url)
    assert 'value="Wet your reed." checked' in html
    assert strip_of(html)["Get ready"] == "begun"
    student.post(f"{url}do/", {"item": items})
    assert StepDone.objects.get().finished
    assert strip_of(page(student, url))["Get ready"] == "done"


# Find the altered notes ----------------------------------------------------------------------------------


def test_tapped_notes_are_answered_with_their_reasons_and_counted(sax: Client, careful: Assignment):
    """Altered by the rules of Western notation, worked out by hand in CAREFUL: notes 1, 2, 3 and 4."""
    url = f"/work/{careful.pk}/steps/signs/"
    response = sax.post(
        f"{url}do/", {"line": "A", "note": ["1", "2", "0"]}, headers={"X-Requested-With": "bandroom"}
    )
    assert response.json() == {"right": 2, "missed": 2, "extra": 1, "finished": False}
    html = page(sax, f"{url}?line=A")
    assert "<b>Bar 1, beat 3: F sharp.</b> F is sharp because of the key signature." in html
    assert "<b>Bar 2, beat 1: F natural.</b> The natural in front of it makes it F natural." in html
    assert "<b>Bar 1, beat 1: not this one.</b> Plain G: no sign, and not in the key signature." in html
    assert "2 found. 2 to go." in html
    assert "1 tapped that is plain" in html


def test_a_second_visit_goes_on_from_the_first(sax: Client, careful: Assignment):
    url = f"/work/{careful.pk}/steps/signs/do/"
    sax.post(url, {"line": "A", "note": ["1"]})
    sax.post(url, {"line": "A", "note": ["2", "3"]})
    kept = StepDone.objects.get()
    assert kept.detail == {"A": {"tapped": [1, 2, 3], "shown": [], "whole": False}}
    sax.post(url, {"line": "A", "shown": ["4"]})
    assert StepDone.objects.get().detail["A"] == {"tapped": [1, 2, 3], "shown": [4], "whole": True}
    assert not StepDone.objects.get().finished, "line B is left"
    html = page(sax, f"/work/{careful.pk}/steps/signs/")
    assert strip_of(html)["Find the signs"] == "line A done"
    assert "Shown to you." in html


def test_the_step_is_done_when_both_lines_are(sax: Client, careful: Assignment):
    """Line B of the exercise is B flat, C, D, B flat in concert pitch: G, A, B, G, nothing altered."""
    url = f"/work/{careful.pk}/steps/signs/do/"
    sax.post(url, {"line": "A", "note": ["1", "2", "3", "4"]})
    sax.post(url, {"line": "B"})
    assert StepDone.objects.get().finished


def test_a_line_of_plain_notes_is_done_by_looking(student: Client, assignment: Assignment):
    for label in assignment.lines:
        url = f"/work/{assignment.pk}/steps/signs/"
        assert "I looked: every note is plain" in student.get(f"{url}?line={label}").content.decode()
        student.post(f"{url}do/", {"line": label})
    assert StepDone.objects.get().finished


def test_the_answer_is_not_given_away_before_a_tap(sax: Client, careful: Assignment):
    html = page(sax, f"/work/{careful.pk}/steps/signs/")
    assert 'aria-label="Bar 2, beat 1, F on the page"' in html
    told = html.split('id="page-data"')[1].split("</script>")[0]  # for the script, to answer at once
    assert "F natural" not in html.replace(told, "")


def test_without_script_the_notes_are_boxes_by_bar_and_beat(sax: Client, careful: Assignment):
    html = page(sax, f"/work/{careful.pk}/steps/signs/")
    boxes = html.split('<form id="ticks"')[1].split("</form>")[0]
    assert boxes.count('type="checkbox"') == 6
    assert "<legend>Bar 2</legend>" in boxes
    assert "Beat 3: F" in boxes
    answer = sax.post(f"/work/{careful.pk}/steps/signs/do/", {"line": "A", "note": ["2"]})
    assert answer["Location"] == f"/work/{careful.pk}/steps/signs/?line=A#answers"


@pytest.mark.parametrize("sent", ["-1", "99", "x", "1.5", "٣", ""])
def test_a_note_that_is_not_there_counts_for_nothing(sax: Client, careful: Assignment, sent: str):
    sax.post(f"/work/{careful.pk}/steps/signs/do/", {"line": "A", "note": [sent]})
    assert StepDone.objects.get().detail["A"]["tapped"] == []


def test_a_line_can_be_started_over(sax: Client, careful: Assignment):
    url = f"/work/{careful.pk}/steps/signs/do/"
    sax.post(url, {"line": "A", "note": ["1"]})
    sax.post(url, {"line": "B"})
    sax.post(url, {"line": "A", "over": "1"})
    assert list(StepDone.objects.get().detail) == ["B"]
    sax.post(url, {"line": "B", "over": "1"})
    assert not StepDone.objects.exists()


# Say, finger, play ---------------------------------------------------------------------------------------


def test_names_and_counts_stand_under_the_notes(sax: Client, careful: Assignment):
    html = page(sax, f"/work/{careful.pk}/steps/names/")
    names = html.split('<g class="names"')[1].split("</g>")[0]
    said = [text.split(">")[1] for text in names.split("<text")[1:] if "names__count" not in text]
    assert [each.split("<")[0] for each in said] == ["G", "F♯", "F", "F", "F♯", "A"]
    assert names.count("names__count") == 12  # twelve beats in three bars of four


def test_only_confirmed_fingerings_reach_a_student(
    student: Client, assignment: Assignment, section: Section, sign_in: SignIn
):
    """Clarinet fingerings want a director's yes; a trumpet's valves are computed."""
    html = page(student, f"/work/{assignment.pk}/steps/fingers/")
    assert "Your director has not checked these yet." in html
    assert "finger-card" not in html
    trumpet = sign_in(factories.make_seat(section=section, instrument="trumpet").student)
    assert page(trumpet, f"/work/{assignment.pk}/steps/fingers/").count('class="finger-card"') == 4


def test_bells_find_their_bars_on_a_keyboard(assignment: Assignment, section: Section, sign_in: SignIn):
    bells = sign_in(factories.make_seat(section=section, instrument="bells").student)
    html = page(bells, f"/work/{assignment.pk}/steps/fingers/")
    assert "<h1>Find the bars</h1>" in html
    assert 'class="keyboard"' in html


def test_names_are_seen_on_a_keyboard_where_there_are_any(
    student: Client, assignment: Assignment, section: Section, sign_in: SignIn
):
    assert 'class="keyboard"' in page(student, f"/work/{assignment.pk}/steps/names/")
    drums = sign_in(factories.make_seat(section=section, instrument="snare").student)
    assert 'class="keyboard"' not in page(drums, f"/work/{assignment.pk}/steps/names/")


@pytest.mark.parametrize("step", [Step.NAMES, Step.FINGERS, Step.PLAY])
def test_going_through_a_line_is_kept_with_the_fastest_tempo(
    student: Client, assignment: Assignment, step: Step
):
    url = f"/work/{assignment.pk}/steps/{step}/do/"
    student.post(url, {"line": "A", "tempo": "66"})
    student.post(url, {"line": "A", "tempo": "50"})
    student.post(url, {"line": "B"})
    row = StepDone.objects.get()
    assert (row.step, row.finished) == (step, True)
    assert row.detail == {"A": {"tempo": 66, "whole": True}, "B": {"whole": True}}


@pytest.mark.parametrize(("sent", "kept"), [("500", 120), ("5", 40), ("fast", None), ("-60", None)])
def test_a_tempo_out_of_reach_is_put_in_reach(student: Client, assignment: Assignment, sent: str, kept):
    student.post(f"/work/{assignment.pk}/steps/play/do/", {"line": "A", "tempo": sent})
    assert StepDone.objects.get().detail["A"].get("tempo") == kept


def test_the_play_along_has_the_tempos_and_bars_to_choose(student: Client, assignment: Assignment):
    Assignment.objects.update(tempos={"A": 66})
    html = page(student, f"/work/{assignment.pk}/steps/play/")
    picks = [part.split('"')[0] for part in html.split('name="tempo" value="')[1:]]
    assert picks == ["50", "60", "66", "72", "84", "96"]
    assert 'value="66" checked' in html
    assert 'min="40" max="120"' in html
    assert "With headphones, start low." in html


# Access --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("step", list(Step))
def test_strangers_get_404_and_visitors_the_sign_in_page(
    step: Step, assignment: Assignment, seat: Seat, band: Band, director: Membership, sign_in: SignIn
):
    url = f"/work/{assignment.pk}/steps/{step}/"
    other_section = factories.make_seat(section=factories.make_section(band=band))
    other_band = factories.make_seat(section=factories.make_section(band=factories.make_band()))
    for user in (other_section.student, other_band.student, director.user):
        assert sign_in(user).get(url).status_code == 404
        assert sign_in(user).post(f"{url}do/", {"line": "A"}).status_code == 404
    assert Client().get(url).status_code == 302
    assert Client().post(f"{url}do/").status_code == 401
    assert sign_in(seat.student).post(url).status_code == 405
    assert sign_in(seat.student).get(f"{url}do/").status_code == 405
    assert not StepDone.objects.exists()


@pytest.mark.parametrize("path", ["steps/dance/", "steps/play/?line=C", "steps/signs/?line=a"])
def test_there_is_no_page_for_what_is_not_asked_for(student: Client, assignment: Assignment, path: str):
    assert student.get(f"/work/{assignment.pk}/{path}").status_code == 404
    assert student.post(f"/work/{assignment.pk}/steps/play/do/", {"line": "C"}).status_code == 404


def test_one_students_steps_are_nobody_elses(
    student: Client, sax: Client, assignment: Assignment, seat: Seat
):
    student.post(f"/work/{assignment.pk}/steps/play/do/", {"line": "A"})
    assert StepDone.objects.get().seat == seat
    assert strip_of(page(sax, f"/work/{assignment.pk}/"))["Play along"] == ""


@pytest.mark.parametrize(("step", "queries"), [("ready", 17), ("signs", 16), ("fingers", 17), ("play", 16)])
def test_a_step_costs_the_same_however_much_lies_behind(
    student: Client,
    band: Band,
    section: Section,
    assignment: Assignment,
    step: str,
    queries: int,
    django_assert_num_queries: Callable[..., object],
):
    url = f"/work/{assignment.pk}/steps/{step}/"
    student.get(url)  # engraved and cached
    for week in range(30):
        factories.make_assignment(
            band=band,
            sections=[section],
            opens_at=now() - timedelta(weeks=9 + week),
            exercise=assignment.exercise,
            rubric=assignment.rubric,
        )
    with django_assert_num_queries(queries):
        student.get(url)
    assert Posting.objects.count() == 31
