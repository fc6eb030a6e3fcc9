"""One student on the desk: what is shown of them, and at what cost."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now
from lxml import html

from bandroom.people.models import Membership, RecordingPermission, Seat, Section
from submissions.grading.queries import COULD_NOT_BE_HEARD, ears_needed
from submissions.grading.services import marks, phrases
from submissions.models import Assignment, Hearing, Phrase, Posting, Return, Stuck, Take, TurnIn
from submissions.turn_ins import services as turn_ins
from tests import factories
from tests.submissions.grading.conftest import make_take, steps, turn_in_both
from tests.submissions.grading.evidence import evidence, make_hearing, other, unsure

pytestmark = pytest.mark.django_db
# the roster's, then: lines and what decides their parts (4), takes, which count, marks, returns, hearings,
# levels, phrases, steps, own range
SEAT_QUERIES = 25


def address(assignment: Assignment, seat: Seat, **query: str) -> str:
    return reverse("submissions:desk-seat", args=[assignment.pk, seat.pk], query=query)


def read(response: Any) -> html.HtmlElement:
    assert response.status_code == 200
    return html.fromstring(response.content.decode())


def text(page: html.HtmlElement, css: str = "main") -> str:
    return " ".join(" ".join(element.text_content().split()) for element in page.cssselect(css))


def hear(turn_in: TurnIn, line: str, slips: dict[int, Any] | None = None, **fields: Any) -> Hearing:
    """Invented evidence for the clarinet's four (or eight) notes of a line."""
    take = turn_in.counting.get(line=line, attempt=turn_in.attempt).take
    sounding = [58, 60, 62, 58] * (1 if line == "A" else 2)
    starts = [n * (2 if line == "A" else 1) for n in range(len(sounding))]
    heard = {"evidence": evidence(sounding=sounding, starts=starts, slips=slips)}
    return make_hearing(take=take, line=line, **(heard | fields))


def test_both_lines_stand_whole_with_their_marks_in_the_same_box(
    desk: Client, assignment: Assignment, waiting: TurnIn
):
    page = read(desk.get(address(assignment, waiting.seat)))
    boxes = page.cssselect("article.judge")
    assert [box.get("data-line") for box in boxes] == ["A", "B"]
    for box in boxes:
        assert len(box.cssselect("svg.line.only-wide")) == 1
        assert len(box.cssselect("svg.line.only-narrow")) == 1
        assert len(box.cssselect("fieldset.scale")) == 2
        assert len(box.cssselect("audio[preload=none]")) == 1
        assert len(box.cssselect("svg.line.only-wide .shelf__hit")) == (4 if box is boxes[0] else 8)


def test_steps_are_plain_radios_that_say_their_meaning(desk: Client, assignment: Assignment, waiting: TurnIn):
    page = read(desk.get(address(assignment, waiting.seat)))
    first = page.cssselect("fieldset.scale")[0]
    assert [label.text_content().split(None, 1) for label in first.cssselect("label")] == [
        ["–not", "yet: nothing to judge"],
        ["1Right", "notes at 1"],
        ["2Right", "notes at 2"],
        ["3Right", "notes at 3"],
        ["4Right", "notes at 4"],
    ]
    assert first.cssselect("input:checked") == []


def test_marks_notes_and_phrases_are_shown_as_they_were_left(
    desk: Client, assignment: Assignment, waiting: TurnIn, director: Membership, other_adult: Any
):
    criterion, levels = next(iter(steps(assignment).items()))
    marks.give_mark(
        turn_in=waiting, attempt=1, line="B", criterion=criterion, level=levels[2], by=other_adult, at=now()
    )
    marks.keep_note(turn_in=waiting, attempt=1, note=marks.ReturnNote("<b>Steady</b>", "", "B2"))
    phrases.add_phrase(band=director.band, kind=Phrase.Kind.WORKED, label="<i>x</i>", text="\"><script>'")
    page = read(desk.get(address(assignment, waiting.seat)))
    scale = page.cssselect('article[data-line="B"] fieldset.scale')[0]
    assert scale.cssselect("input[checked]")[0].get("value") == str(levels[2].pk)
    assert scale.cssselect('input[type="hidden"]')[0].get("value") == str(levels[2].pk)
    assert "by Imre" in scale.text_content()
    assert page.cssselect("#worked")[0].text == "<b>Steady</b>"
    assert page.cssselect("#look option[selected]")[0].text == "Line B, bar 2"
    assert page.cssselect("[data-phrase]")[0].get("data-phrase") == "\"><script>'"


def test_html_in_every_field_stays_words(
    desk: Client, assignment: Assignment, section: Section, posting: Posting
):
    evil = '<img src=x onerror="alert(1)">'
    student = factories.make_user(first_name=evil, last_name=evil)
    seat = factories.make_seat(section=section, student=student)
    turn_ins.excuse(seat=seat, posting=posting, reason=evil, by=student, at=now())
    for page in (
        desk.get(address(assignment, seat)),
        desk.get(reverse("submissions:desk", args=[assignment.pk], query={"view": "list"})),
        desk.get(reverse("submissions:desk", args=[assignment.pk])),
    ):
        assert b"<img" not in page.content
        assert html.fromstring(page.content.decode()).cssselect("img, [onerror]") == []


def test_evidence_stands_under_its_notes_and_in_words(desk: Client, assignment: Assignment, waiting: TurnIn):
    hear(waiting, "A", {1: other(1, "D#4"), 3: unsure("two notes run together")})
    page = read(desk.get(address(assignment, waiting.seat)))
    box = page.cssselect('article[data-line="A"]')[0]
    assert len(box.cssselect("svg.only-wide .shelf__heard")) == 4
    assert text(box, "[data-now]") == (
        "Bar 2, beat 3. Written C, unsure, please listen: two notes run together."
    )
    assert "Also: bar 1 beat 3 D heard as D♯. Two of 4 as written." in text(box, ".judge__rest")
    assert len(box.cssselect("[data-notes] li")) == 4
    assert [b.get("value") for b in box.cssselect("[data-ear-now] button")] == [
        "A:3:as_written", "A:3:other_pitch", "A:3:not_heard",
    ]  # fmt: skip
    assert page.cssselect('article[data-line="B"] .shelf__tray') == []


def test_a_line_the_listener_failed_at_needs_the_ear_first(assignment: Assignment, waiting: TurnIn):
    hear(waiting, "A", {1: unsure()})
    hear(waiting, "B", state="failed", evidence=None, reason="Too much noise.")
    assert ears_needed(assignment=assignment) == {waiting.seat_id: 1 + COULD_NOT_BE_HEARD}
    hear(waiting, "B", {}, engine_version="2")
    assert ears_needed(assignment=assignment) == {waiting.seat_id: 1}


def test_a_misreading_leads_to_how_the_part_is_read(desk: Client, assignment: Assignment, waiting: TurnIn):
    heard = evidence(
        sounding=[58, 60, 62, 58],
        starts=[0, 2, 4, 6],
        misreading={"cause": "key_forgotten", "sentence": "Two notes sound as if …", "notes": [0, 3]},
    )
    hear(waiting, "A", evidence=heard)
    page = read(desk.get(address(assignment, waiting.seat)))
    (link,) = page.cssselect('article[data-line="A"] .judge__words > .judge__rest a')
    assert link.get("href") == f"/exercises/{assignment.exercise_id}/parts/clarinet/"
    assert desk.get(link.get("href")).status_code == 200


def test_note_heads_are_never_touched_by_evidence(desk: Client, assignment: Assignment, waiting: TurnIn):
    def scores() -> list[bytes]:
        page = read(desk.get(address(assignment, waiting.seat)))
        return [html.tostring(score) for score in page.cssselect("svg.line g.score")]

    before = scores()
    hear(waiting, "A", {1: other(1)})
    assert scores() == before


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"state": "queued", "evidence": None}, "Listening: what was heard will stand here by itself."),
        (
            {"state": "failed", "evidence": None, "reason": "Too much noise."},
            "Too much noise. Listen and mark",
        ),
        ({"state": "failed", "evidence": None}, "This take could not be listened to."),
        ({"evidence": {"notes": []}}, "belongs to another version of this line"),
    ],
)
def test_the_desk_works_without_evidence(
    desk: Client, assignment: Assignment, waiting: TurnIn, fields: dict[str, Any], words: str
):
    hear(waiting, "A", **fields)
    page = read(desk.get(address(assignment, waiting.seat)))
    assert words in text(page, 'article[data-line="A"] .judge__words')
    assert len(page.cssselect("fieldset.scale")) == 4


def test_where_the_sound_is_placed_by_guess_it_is_said(desk: Client, assignment: Assignment, waiting: TurnIn):
    page = read(desk.get(address(assignment, waiting.seat)))
    assert "Sound placed roughly" in text(page, 'article[data-line="A"] .judge__words')
    Take.objects.update(beat_one_seconds=1.5)
    page = read(desk.get(address(assignment, waiting.seat)))
    assert "by the count-off and the tempo" in text(page, 'article[data-line="A"] .judge__words')
    first = page.cssselect('article[data-line="A"] .shelf__hit')[0]
    assert first.get("data-at") == "1.500"


def test_the_desk_shows_the_tempo_that_was_counted_off_beside_the_one_asked_for(
    desk: Client, assignment: Assignment, waiting: TurnIn
):
    Assignment.objects.update(tempos={"A": 60}, tempo_ranges={"A": [54, 66]})
    assert text(read(desk.get(address(assignment, waiting.seat))), ".judge__tempo").startswith("♩ = 60")
    Take.objects.update(tempos={"A": 66}, beat_one_seconds=1.0)
    page = read(desk.get(address(assignment, waiting.seat)))
    shown = text(page, 'article[data-line="A"] .judge__tempo')
    assert " ".join(shown.replace("asked", " asked").split()) == "♩ = 66 asked 60"
    # beat 3 of a line of half notes, two beats after beat 1 at 66 a minute
    assert page.cssselect('article[data-line="A"] .shelf__hit')[1].get("data-at") == f"{1 + 2 * 60 / 66:.3f}"


def test_earlier_takes_can_be_heard_and_the_counting_one_is_named(
    desk: Client, assignment: Assignment, seat: Seat, posting: Posting, in_time: datetime
):
    old = make_take(seat=seat, assignment=assignment, lines=("A", "B"), at=in_time - timedelta(hours=2))
    turn_in_both(seat=seat, posting=posting, at=in_time)
    page = read(desk.get(address(assignment, seat)))
    assert text(page, 'article[data-line="A"] details summary') == "Take 2 of 2"
    assert "counts (shown)" in text(page, 'article[data-line="A"] details li:nth-child(2)')
    page = read(desk.get(address(assignment, seat, **{"take-A": str(old.pk)})))
    assert text(page, 'article[data-line="A"] summary') == "Take 1 of 2, does not count"
    assert page.cssselect('article[data-line="A"] audio')[0].get("src").endswith(f"{old.pk}/sound")
    assert not page.cssselect('article[data-line="B"] audio')[0].get("src").endswith(f"{old.pk}/sound")


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("declared", "still on its way from the student’s phone."),
        ("preparing", "is being prepared"),
        ("refused", "This take cannot be played: It is empty."),
        ("deleted", "This take was deleted"),
    ],
)
def test_a_take_that_cannot_be_heard_says_where_it_is(
    desk: Client, assignment: Assignment, waiting: TurnIn, state: str, words: str
):
    Take.objects.update(state=state, reason="It is empty." if state == "refused" else "")
    page = read(desk.get(address(assignment, waiting.seat)))
    assert words in text(page, 'article[data-line="A"] .judge__words')
    assert page.cssselect("audio") == []


def test_a_counting_take_that_was_refused_later_stands_out_and_can_still_be_marked(
    desk: Client, assignment: Assignment, waiting: TurnIn
):
    take = waiting.counting.get(line="A").take
    Take.objects.filter(pk=take.pk).update(state=Take.State.REFUSED, reason="There is no sound in it.")
    page = read(desk.get(address(assignment, waiting.seat)))
    said = text(page, 'article[data-line="A"] .judge__doubt')
    assert said.startswith("This take cannot be played: There is no sound in it.")
    assert "Hear it live, or ask for it again." in said
    assert page.cssselect('article[data-line="A"] fieldset.judge__marks')[0].get("disabled") is None
    assert page.cssselect('article[data-line="B"] .judge__doubt') == []


def test_the_students_year_is_one_link_away(desk: Client, assignment: Assignment, waiting: TurnIn):
    page = read(desk.get(address(assignment, waiting.seat)))
    member = Membership.objects.get(user=waiting.seat.student)
    [link] = [a for a in page.cssselect(".desk__more a") if a.text_content().endswith("’s year so far")]
    assert link.get("href") == f"/students/{member.pk}/"


def test_an_erased_student_has_no_year_to_go_to(desk: Client, assignment: Assignment, waiting: TurnIn):
    Membership.objects.filter(user=waiting.seat.student).delete()
    assert "year so far" not in text(read(desk.get(address(assignment, waiting.seat))), ".desk__more")


def test_late_is_shown_with_both_times_and_the_directors_choice(
    desk: Client, assignment: Assignment, seat: Seat, posting: Posting
):
    turn_in = turn_in_both(seat=seat, posting=posting, at=now() - timedelta(hours=3))
    TurnIn.objects.update(phone_time=now() - timedelta(days=1, hours=2))
    page = read(desk.get(address(assignment, seat)))
    assert "Late." in text(page, ".desk__facts")
    assert "; the phone says " in text(page, ".podium")
    assert text(page, '.desk__facts button[value="on_time"]') == "Count as on time"
    turn_ins.decide_lateness(turn_in=turn_in, on_time=True, by=seat.student, at=now())
    page = read(desk.get(address(assignment, seat)))
    assert "Counts as on time, by a director’s decision." in text(page, ".desk__facts")
    assert text(page, '.desk__facts button[value="rule"]') == "Leave it to the rule"


def test_one_time_is_shown_where_both_agree(desk: Client, assignment: Assignment, waiting: TurnIn):
    TurnIn.objects.update(phone_time=waiting.turned_in_at + timedelta(seconds=20))
    assert "the phone says" not in text(read(desk.get(address(assignment, waiting.seat))), ".podium")


def test_with_nothing_in_there_is_live_and_paper(desk: Client, assignment: Assignment, section: Section):
    seat = factories.make_seat(section=section, recording=RecordingPermission.PENDING)
    page = read(desk.get(address(assignment, seat)))
    assert "Nothing in yet. No permission to record" in text(page, ".desk__facts")
    assert [b.get("value") for b in page.cssselect(".desk__facts button")] == ["check_in", "paper"]
    assert len(page.cssselect("fieldset.judge__marks[disabled]")) == 2
    assert page.cssselect(".closing") == []


def test_what_was_returned_is_shown_and_closed(
    desk: Client, assignment: Assignment, waiting: TurnIn, director: Membership
):
    marks.keep_note(turn_in=waiting, attempt=1, note=marks.ReturnNote("Steady.", "Slower.", "A2"))
    turn_ins.ask_again(turn_in=waiting, attempt=1, by=director.user, at=now())
    page = read(desk.get(address(assignment, waiting.seat)))
    shown = text(page, ".desk__returned")
    assert shown.startswith("Sent back to play again ")
    for words in ("Steady.", "Slower.", "Line A, bar 2", "Take back to change it"):
        assert words in shown
    assert len(page.cssselect("fieldset.judge__marks[disabled]")) == 2


def test_an_earlier_attempt_stays_to_be_seen(
    desk: Client, assignment: Assignment, waiting: TurnIn, director: Membership, posting: Posting
):
    criterion, levels = next(iter(steps(assignment).items()))
    marks.give_mark(
        turn_in=waiting, attempt=1, line="A", criterion=criterion, level=levels[1], by=director.user, at=now()
    )
    marks.keep_note(turn_in=waiting, attempt=1, note=marks.ReturnNote("", "Slower."))
    turn_ins.ask_again(turn_in=waiting, attempt=1, by=director.user, at=now())
    turn_in_both(seat=waiting.seat, posting=posting, at=now())
    page = read(desk.get(address(assignment, waiting.seat)))
    assert "Line A: Right notes 2 Next step: Slower." in text(page, ".desk__earlier")
    assert page.cssselect("fieldset.scale input[checked]") == []
    assert page.cssselect("#next-step")[0].text in (None, "")


def test_where_a_student_is_stuck_is_said(desk: Client, assignment: Assignment, waiting: TurnIn):
    Stuck.objects.create(assignment=assignment, seat=waiting.seat, line="B", bar=2, at=now())
    assert "Stuck at line B, bar 2" in text(read(desk.get(address(assignment, waiting.seat))), ".desk__facts")


def test_next_and_back_stay_within_the_choice(
    desk: Client, assignment: Assignment, section: Section, posting: Posting, in_time: datetime
):
    seats = [factories.make_seat(section=section, instrument=i) for i in ("flute", "tuba", "flute")]
    for seat in seats:
        turn_in_both(seat=seat, posting=posting, at=in_time)
    page = read(desk.get(address(assignment, seats[0], instrument="flute")))
    assert [a.get("href") for a in page.cssselect(".podium__next a")] == [
        address(assignment, seats[2], instrument="flute")
    ]
    page = read(desk.get(address(assignment, seats[1])))
    assert [a.get("href") for a in page.cssselect(".podium__next a")] == [
        address(assignment, seats[2]),
        address(assignment, seats[0]),
    ]


@pytest.mark.parametrize("seats", [1, 30])
def test_a_student_costs_the_same_in_a_class_of_any_size(
    desk: Client,
    section: Section,
    assignment: Assignment,
    posting: Posting,
    in_time: datetime,
    seats: int,
    django_assert_num_queries: Callable[..., object],
):
    made = [factories.make_seat(section=section) for _ in range(seats)]
    for seat in made:
        turn_in = turn_in_both(seat=seat, posting=posting, at=in_time)
        hear(turn_in, "A")
    desk.get(address(assignment, made[0]))
    with django_assert_num_queries(SEAT_QUERIES):
        desk.get(address(assignment, made[0]))


def test_a_seat_that_does_not_belong_is_not_found(desk: Client, assignment: Assignment, section: Section):
    elsewhere = factories.make_seat(section=factories.make_section(band=section.band))
    assert desk.get(address(assignment, elsewhere)).status_code == 404
    assert Return.objects.count() == 0
