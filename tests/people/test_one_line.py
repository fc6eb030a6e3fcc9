"""Names stand in one line: line breaks and invisible signs are refused with a sentence, and lose nothing."""

import pytest
from icalendar import Calendar

from bandroom.people.forms.bands import BandForm, SectionForm
from bandroom.people.forms.staff import InviteForm
from bandroom.people.forms.students import NameForm
from exercises.forms.writing import ExerciseForm
from submissions.assigning.forms.rubric import RubricForm
from submissions.checkins.calendars import calendar

SAYS = "Write it in one line, without line breaks or other invisible signs."
BROKEN = ("Bend\nBand", "Bend\r\nBand", "Bend\tBand", "Bend\x00Band", "Bend\u2028Band", "\x1b[31mBand")
FIELDS = (
    (BandForm, "name"),
    (BandForm, "school"),
    (SectionForm, "name"),
    (SectionForm, "period"),
    (NameForm, "first_name"),
    (InviteForm, "first_name"),
    (ExerciseForm, "title"),
    (ExerciseForm, "caption_A"),
    (RubricForm, "name"),
)


@pytest.mark.parametrize("typed", BROKEN)
@pytest.mark.parametrize(("form", "field"), FIELDS)
def test_a_name_of_several_lines_is_refused(form, field, typed):
    wrong = form({field: typed})

    assert SAYS in wrong.errors[field]


def test_letters_of_every_language_pass():
    named = SectionForm({"name": "Vientos-metal – Ñandú & 低音", "period": "2"})

    assert named.is_valid(), named.errors


def test_a_band_made_by_hand_with_a_name_of_two_lines_has_a_calendar():
    content = calendar([], name="Check-ins, Harrow\nBend", address_of=lambda slot: "")

    assert str(Calendar.from_ical(content)["x-wr-calname"]) == "Check-ins, Harrow Bend"
