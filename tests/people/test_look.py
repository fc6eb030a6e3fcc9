"""What the tags and filters of every page write."""

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django import forms
from django.template import engines
from django.template.loader import render_to_string
from django.test import RequestFactory

from bandroom.people.models import Band
from bandroom.people.seated import SeatedSection, SeatedStudent
from bandroom.people.templatetags import look

CHICAGO = Band(name="Harrow Bend Band", time_zone="America/Chicago")
DUE = datetime(2026, 10, 9, 1, 0, tzinfo=UTC)  # Thursday 8 October, 8 pm in Chicago


def rendered(source: str, **context: object) -> str:
    return engines["django"].from_string("{% load look %}" + source).render(context)


def test_times_are_told_by_the_clock_of_the_band() -> None:
    assert look.band_time(DUE, CHICAGO) == "Thursday 8 October, 8:00 pm"
    assert look.band_day(DUE, CHICAGO) == "Thursday 8 October"
    assert look.band_clock(DUE, CHICAGO) == "8:00 pm"


@pytest.mark.parametrize(
    ("moment", "clock"),
    [
        # United States daylight time ended on Sunday 1 November 2026, 2:00 am (tz database, Chicago)
        (datetime(2026, 11, 1, 6, 30, tzinfo=UTC), "1:30 am"),
        (datetime(2026, 11, 1, 7, 30, tzinfo=UTC), "1:30 am"),
        (datetime(2026, 11, 1, 8, 30, tzinfo=UTC), "2:30 am"),
        (datetime(2026, 7, 1, 17, 0, tzinfo=UTC), "12:00 pm"),
        (datetime(2026, 7, 1, 5, 0, tzinfo=UTC), "12:00 am"),
    ],
)
def test_clock_follows_daylight_saving_and_twelve_o_clock(moment: datetime, clock: str) -> None:
    assert look.band_clock(moment, CHICAGO) == clock


@pytest.mark.parametrize(
    ("at", "says"),
    [
        (datetime(2026, 10, 9, 0, 59, tzinfo=UTC), "due today"),
        (datetime(2026, 10, 8, 5, 0, tzinfo=UTC), "due today"),
        (datetime(2026, 10, 8, 4, 59, tzinfo=UTC), "due tomorrow"),
        (datetime(2026, 10, 6, 20, 0, tzinfo=UTC), "two days left"),
        (datetime(2026, 9, 20, 20, 0, tzinfo=UTC), "18 days left"),
        (DUE, ""),
        (datetime(2026, 10, 10, 1, 0, tzinfo=UTC), ""),
    ],
)
def test_time_left_counts_the_calendar_days_of_the_band(at: datetime, says: str) -> None:
    assert look.time_left(DUE, CHICAGO, at) == says


@pytest.mark.parametrize(("seconds", "says"), [(0, "0:00"), (16.6, "0:17"), (59.6, "1:00"), (754, "12:34")])
def test_a_take_has_minutes_and_seconds(seconds: float, says: str) -> None:
    assert look.clock(seconds) == says


def test_every_sign_has_its_symbol_on_the_page() -> None:
    drawn = set(re.findall(r'<symbol id="sign-([a-z]+)"', render_to_string("includes/signs.html")))
    assert {symbol for symbol, _ in look.SIGNS.values()} == drawn


def test_signs_are_silent_and_their_words_are_not() -> None:
    assert rendered('{% sign "late" %}') == (
        '<svg class="sign" viewBox="0 0 30 18" aria-hidden="true"><use href="#sign-late"/></svg>'
    )
    assert rendered('{% sign_word "redo" small=True %}').endswith("</svg>play again</span>")


def test_a_state_without_a_sign_is_an_error_not_an_empty_space() -> None:
    with pytest.raises(KeyError, match="asleep"):
        rendered('{% sign "asleep" %}')


def test_keys_are_escaped() -> None:
    assert rendered("{% key k %}", k="<") == '<kbd class="key">&lt;</kbd>'


def one_section(**changes: object) -> list[SeatedSection]:
    student = SeatedStudent("Ilse <b>", "Ilse <b>, flute: waiting", "waiting", "?seat=4", is_now=True)
    return [SeatedSection("Flute", [student], **changes)]  # type: ignore[arg-type]


def test_a_seat_says_who_sits_there_and_how_things_stand() -> None:
    page = rendered(
        '{% band sections label="Period 2" %}', sections=one_section(count="1 of 1", href="?section=1")
    )
    assert 'aria-label="Ilse &lt;b&gt;, flute: waiting"' in page
    assert 'class="seat is-now"' in page
    assert 'aria-current="true"' in page
    assert 'aria-label="Flute, 1 of 1"' in page
    assert "<b>" not in page


def test_a_page_anyone_can_open_names_no_student_and_no_state() -> None:
    page = rendered('{% band sections label="" public=True %}', sections=one_section(href="?section=1"))
    assert "Ilse" not in page
    assert "waiting" not in page
    assert 'href="?' not in page
    assert "Flute" in page


class TurnInForm(forms.Form):
    name = forms.CharField(help_text="As on the <card>")
    route = forms.ChoiceField(widget=forms.RadioSelect, choices=[("a", "Record"), ("b", "Live")])
    note = forms.CharField(required=False)


def test_a_form_ties_help_and_errors_to_their_boxes() -> None:
    page = (
        engines["django"]
        .from_string("{% load crispy_forms_filters %}{{ form|crispy }}")
        .render({"form": TurnInForm(data={"name": "", "note": ""})})
    )
    assert 'aria-describedby="id_name_helptext id_name_error"' in page
    assert 'aria-invalid="true"' in page
    assert 'id="id_name_helptext">As on the &lt;card&gt;<' in page
    assert '<a href="#id_name">Name: This field is required.</a>' in page
    assert '<a href="#div_id_route">Route: This field is required.</a>' in page
    assert '<fieldset id="div_id_route"' in page
    assert 'Note <span class="field__may">(optional)</span>' in page
    for target in re.findall(r'href="#([^"]+)"', page):
        assert f'id="{target}"' in page


def test_a_sound_form_has_no_summary() -> None:
    page = (
        engines["django"]
        .from_string("{% load crispy_forms_filters %}{{ form|crispy }}")
        .render({"form": TurnInForm(data={"name": "Ada", "route": "a"})})
    )
    assert "wrong" not in page


@pytest.mark.parametrize(
    "name", ["404.html", "403.html", "429.html", "403_csrf.html", "500.html", "507.html"]
)
def test_error_pages_need_nothing_but_themselves(name: str) -> None:
    page = render_to_string(name)
    assert page.count("<h1>") == 1
    assert '<html lang="en">' in page


def test_too_many_tries_says_how_long_to_wait() -> None:
    assert "Wait 5 minutes, then try once more." in render_to_string("429.html", {"minutes": 5})


def test_no_template_holds_inline_script_style_or_handlers() -> None:
    folder = Path(__file__).parents[2] / "templates"
    found = {}
    for template in folder.rglob("*.html"):
        text = template.read_text()
        inline = re.findall(r"<script(?![^>]*\bsrc=)[^>]*>|<style\b|\sstyle=|\son[a-z]+=\"", text)
        if inline:
            found[str(template.relative_to(folder))] = inline
    assert found == {}


def test_the_base_page_carries_the_token_for_scripts() -> None:
    request = RequestFactory().get("/")
    page = render_to_string("404.html", request=request)
    assert re.search(r'<meta name="csrf-token" content="[A-Za-z0-9]{64}">', page)
