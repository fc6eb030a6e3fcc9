"""The part as a student will see it, before it is posted."""

import pytest
from lxml import html

from submissions.models import Assignment
from tests.submissions.assigning.pages import HTML, assert_escaped, statuses

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("on_tuesday")]


@pytest.fixture
def url(exercise):
    return f"/assignments/preview/{exercise.pk}/"


def test_it_shows_the_lines_asked_for_as_the_instrument_reads_them(as_director, url, filled_in):
    response = as_director.post(
        url, filled_in | {"instrument": "alto_sax", "lines": ["B"], "tempo-B": "60", "note": "Softly."}
    )
    assert response.status_code == 200
    shown = response.content.decode()
    assert "As a student who plays Alto sax will see it." in shown
    assert 'aria-label="Line B for Alto sax"' in shown
    assert "Line A" not in shown
    assert "60 quarter notes a minute" in shown
    assert "due Thursday 8 October, 8:00 pm" in shown
    assert "Softly." in shown
    assert Assignment.objects.count() == 0


def test_each_instrument_gets_its_own_part(as_director, url, filled_in):
    def part(instrument):
        return [
            line.svg
            for line in as_director.post(url, filled_in | {"instrument": instrument}).context["lines"]
        ]

    parts = {instrument: tuple(part(instrument)) for instrument in ("flute", "clarinet", "horn", "tuba")}
    assert all(len(lines) == 2 for lines in parts.values())
    assert len(set(parts.values())) == 4


def test_a_form_half_filled_in_still_shows_the_part(as_director, url):
    response = as_director.post(url, {"instrument": "flute", "lines": ["A"]})
    assert response.status_code == 200
    assert [line.label for line in response.context["lines"]] == ["A"]
    assert "due " not in response.content.decode()


def test_without_a_line_it_says_what_to_do(as_director, url):
    shown = as_director.post(url, {"instrument": "flute"}).content.decode()
    assert "No line is asked for; tick at least one." in shown


def test_an_instrument_that_is_none_is_read_as_flute(as_director, url, filled_in):
    response = as_director.post(url, filled_in | {"instrument": "kazoo"})
    assert response.context["instrument"].label == "Flute"


def test_what_a_script_takes_of_it_is_the_part_alone(as_director, url, filled_in):
    page = html.fromstring(as_director.post(url, filled_in | {"instrument": "flute"}).content)
    (part,) = page.cssselect("#preview")
    assert [found.get("aria-label") for found in part.cssselect("svg[aria-label]")][:1] == [
        "Line A for Flute"
    ]
    assert part.cssselect("h1") == []


def test_a_part_that_cannot_be_made_says_why(as_director, exercise, url, filled_in):
    exercise.lines.filter(label="A").update(score={"label": "A"})
    response = as_director.post(url, filled_in | {"instrument": "flute"})
    assert response.status_code == 200
    problems = {line.label: line.problem for line in response.context["lines"]}
    assert problems["A"]


def test_html_in_the_note_is_escaped(as_director, exercise, url, filled_in):
    exercise.lines.update(caption=HTML[:40])
    assert_escaped(as_director.post(url, filled_in | {"instrument": HTML, "note": HTML}))


def test_only_the_bands_directors_see_it(as_substitute, as_student, as_stranger, visitor, url):
    people = (as_substitute, as_student, as_stranger, visitor)
    assert statuses(url, *people, method="post") == [404, 404, 404, 401]


def test_it_is_sent_not_read(as_director, url):
    assert as_director.get(url).status_code == 405
