"""From sound to sentence: five clarinets record, four keep a tied sharp for the whole bar.

The takes are synthesised from the part; the listener hears them in its own process, as at a school.
"""

from datetime import timedelta

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import storages
from django.utils.timezone import now
from lxml import html

from bandroom.demo.sounds import Slips, encode, sound, tones
from bandroom.people.models import Band, Membership, Seat, Section
from exercises.models import Exercise, ExerciseLine
from exercises.music.notation import parse_notation
from exercises.music.score import FOUR_FOUR, line_to_json
from exercises.parts import part_of
from submissions.models import Assignment, Take
from submissions.takes.files import random_name
from submissions.takes.services import hearing
from submissions.takes.services.preparation import Ended
from submissions.turn_ins import services as turn_ins
from tests import factories
from tests.submissions.grading.conftest import make_take

pytestmark = pytest.mark.django_db
# Concert pitch; a clarinet reads G, G sharp tied over the bar line, and then plain G.
LINE = "Bb3:1 A3 G3 A3 | F3:2 F#3~ | F#3:1 F3 G3 A3 | Bb3:4 |"
AFTER_THE_TIE = 7  # its index on the page


@pytest.fixture
def assignment(band: Band, section: Section) -> Assignment:
    exercise = Exercise.objects.create(band=band, title="Over the Bar", created_at=factories.MONDAY)
    line = parse_notation(LINE, label="B", metre=FOUR_FOUR, fifths=-2)
    ExerciseLine.objects.create(exercise=exercise, label="B", order=0, tempo_bpm=84, score=line_to_json(line))
    made = factories.make_assignment(
        band=band, sections=[section], exercise=exercise, opens_at=now() - timedelta(days=2)
    )
    made.lines = ["B"]
    made.save(update_fields=["lines"])
    return made


def record(seat: Seat, assignment: Assignment, slips: Slips, *, cents: float) -> Take:
    line = assignment.exercise.lines.get()
    played = tones(part=part_of(line=line, instrument="clarinet"), tempo=line.tempo_bpm, slips=slips)
    data = encode(sound(takes=[played], timbre="clarinet", cents=cents))
    name = storages["takes"].save(random_name(), ContentFile(data))
    take = make_take(seat=seat, assignment=assignment, lines=("B",), at=now(), served=name)
    turn_ins.turn_in(
        seat=seat,
        posting=assignment.postings.select_related("assignment").get(),
        takes={"B": take},
        at=now(),
    )
    row = hearing.ask_for_hearing(take=take, at=now(), queue=lambda _row: None)
    assert row is not None
    assert hearing.hear(hearing_pk=row.pk, clock=now).ended == Ended.READY
    return take


def test_four_of_five_who_keep_a_tied_sharp_are_counted_and_told_why(
    sign_in, director: Membership, section: Section, assignment: Assignment
):
    kept = Slips(other_pitch={AFTER_THE_TIE: 1})
    for cents, slips in ((-12.0, kept), (-4.0, kept), (0.0, Slips()), (7.0, kept), (15.0, kept)):
        record(factories.make_seat(section=section), assignment, slips, cents=cents)
    response = sign_in(director.user).get(f"/assignments/{assignment.pk}/")
    [found] = html.fromstring(response.content.decode()).cssselect('section[aria-labelledby="missed"]')
    said = " ".join(" ".join(found.itertext()).split())
    assert "4 of 5 likely kept a tied sign after the tie had ended, most of all in bar 3." in said
    assert (
        "1 Bar 3, beat 2: 4 of 5 played G sharp. "
        "The sharp tied over the bar line was likely read as lasting the whole bar; it ends with the tie. "
        "Tomorrow: clap bars 2 and 3, say “G sharp, hold, G”."
    ) in said
    assert "5 of 5 heard so far." in said
    ticks = found.cssselect("svg.only-wide rect.roots__tick")
    assert [tick.get("class") for tick in ticks] == ["roots__tick"] * 4
