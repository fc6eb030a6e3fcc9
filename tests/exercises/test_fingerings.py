"""Fingerings: a yes, a correction, an alternate of one's own; the band's switches."""

from collections.abc import Callable

import pytest
from django.test import Client

from bandroom.people.models import Band, Membership
from exercises.fingerings import fingering_settings
from exercises.models import Exercise, ExerciseLine, FingeringChoice, PartPolicy
from exercises.music.fingering_tables import DEFAULT_SETTINGS
from exercises.pages.fingerings import note_fingerings
from exercises.parts import part_of
from tests.exercises.pages import text_of

pytestmark = pytest.mark.django_db
SAX = "/fingerings/alto_sax/"
G4 = "saxophone:67:primary"


def words(exercise: Exercise, instrument: str = "alto_sax", *, confirmed_only: bool = True) -> dict[str, str]:
    """What a student sees: note to fingering, in line A (concert B flat, C, D: an alto's G, A, B)."""
    line = ExerciseLine.objects.get(exercise=exercise, label="A")
    found = note_fingerings(line=line, instrument=instrument, confirmed_only=confirmed_only)
    return {note.spoken: note.words for note in found}


def test_every_instrument_with_a_table_is_listed_with_what_waits(client: Client) -> None:
    page = text_of(client.get("/fingerings/"))
    assert page.count("wait for your yes") > 5
    assert "Snare drum" not in page
    assert "nothing waits" in page  # the trumpet's valves are computed


def test_students_see_nothing_of_a_woodwind_until_the_director_says_yes(
    client: Client, exercise: Exercise, director: Membership
) -> None:
    assert words(exercise) == {}
    answer = client.post(f"{SAX}confirm/", {"row": [G4]}, follow=True)
    assert "1 fingering confirmed." in text_of(answer)
    assert words(exercise) == {"G": "Left 1 2 3"}
    choice = FingeringChoice.objects.get()
    assert (choice.confirmed_by, choice.row_id) == (director.user, G4)


def test_all_that_wait_are_confirmed_at_once_and_only_once(client: Client, exercise: Exercise) -> None:
    page = text_of(client.get(SAX))
    rows = [piece.partition('"')[0] for piece in page.split('name="row" value="')[1:]]
    waiting = sorted(set(rows))
    answer = client.post(f"{SAX}confirm/", {"row": waiting}, follow=True)
    assert f"{len(waiting)} fingerings confirmed." in text_of(answer)
    assert "Nothing waits." in text_of(answer)
    assert set(words(exercise)) == {"G", "A", "B"}
    again = client.post(f"{SAX}confirm/", {"row": waiting}, follow=True)
    assert "0 fingerings confirmed." in text_of(again)


def test_an_alto_yes_is_not_a_tenor_yes(client: Client, exercise: Exercise) -> None:
    client.post(f"{SAX}confirm/", {"row": [G4]})
    assert words(exercise, "bari_sax") == {}


def test_a_yes_is_taken_back(client: Client, exercise: Exercise) -> None:
    client.post(f"{SAX}confirm/", {"row": [G4]})
    client.post(f"{SAX}confirm/", {"take-back": G4})
    assert words(exercise) == {}


def test_unknown_rows_are_passed_over(client: Client) -> None:
    client.post(f"{SAX}confirm/", {"row": ["saxophone:5:primary", "<b>", "clarinet:60:primary"]})
    assert not FingeringChoice.objects.exists()


def test_a_row_is_corrected_and_confirmed_with_a_hint(client: Client, exercise: Exercise) -> None:
    note = f"{SAX}67/"
    assert client.get(note).status_code == 200
    sent = {"row": G4, "keys": ["LH1", "LH2", "LH3", "G#Key"], "when": "", "hint": "Curl your fingers."}
    assert client.post(note, sent).url == SAX
    assert words(exercise) == {"G": "Left 1 2 3, G♯ key"}
    page = text_of(client.get(SAX))
    assert "Curl your fingers." in page
    assert "corrected" in page
    client.post(f"{SAX}confirm/", {"reset": G4})
    assert words(exercise, confirmed_only=False)["G"] == "Left 1 2 3"
    assert words(exercise) == {}


def test_a_correction_back_to_the_tables_own_keys_is_only_a_yes(client: Client) -> None:
    client.post(f"{SAX}67/", {"row": G4, "keys": ["LH1", "LH2"], "when": "", "hint": ""})
    client.post(f"{SAX}67/", {"row": G4, "keys": ["LH1", "LH2", "LH3"], "when": "", "hint": ""})
    choice = FingeringChoice.objects.get()
    assert (choice.own_keys, choice.confirmed_at is not None) == (None, True)


def test_an_alternate_of_ones_own_is_added_and_taken_away(client: Client) -> None:
    sent = {"row": "own", "keys": ["LH1", "LH3"], "when": "for a trill", "hint": ""}
    assert client.post(f"{SAX}67/", sent).status_code == 302
    page = text_of(client.get(SAX))
    assert "Your own alternate." in page
    assert "For a trill." in page
    choice = FingeringChoice.objects.get()
    assert choice.row_id == "saxophone:67:own"
    client.post(f"{SAX}confirm/", {"reset": choice.row_id})
    assert "Your own alternate." not in text_of(client.get(SAX))


def test_html_in_a_hint_is_escaped(client: Client, exercise: Exercise) -> None:
    bad = "<img src=x onerror=alert(1)>"
    client.post(f"{SAX}67/", {"row": G4, "keys": ["LH1"], "when": bad, "hint": bad})
    for address in (SAX, f"{SAX}67/", f"/exercises/{exercise.pk}/parts/alto_sax/"):
        page = text_of(client.get(address))
        assert "<img src=x" not in page
        assert "&lt;img src=x" in page


@pytest.mark.parametrize(
    ("instrument", "midi", "sent", "sentence"),
    [
        ("alto_sax", 67, {"row": G4, "keys": ["Trapdoor"]}, "Choose from the keys of this instrument."),
        ("alto_sax", 67, {"row": G4, "hint": "x" * 201}, "Say it in at most 200 letters."),
        ("trombone", 58, {"row": "trombone:58:primary", "keys": []}, "Choose one position."),
        ("trombone", 58, {"row": "trombone:58:primary", "keys": ["1", "2"]}, "Choose one position."),
    ],
)
def test_a_correction_that_cannot_be_is_said(
    client: Client, instrument: str, midi: int, sent: dict[str, object], sentence: str
) -> None:
    answer = client.post(f"/fingerings/{instrument}/{midi}/", sent)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert not FingeringChoice.objects.exists()


def test_valves_and_positions_are_corrected_too(client: Client, exercise: Exercise) -> None:
    """A trumpet's written D, a trombone's B flat."""
    trumpet = {"row": "trumpet:62:primary", "keys": ["1", "2", "3"], "when": "", "hint": ""}
    client.post("/fingerings/trumpet/62/", trumpet)
    assert words(exercise, "trumpet")["D"] == "Valves 1, 2 and 3"
    client.post("/fingerings/trombone/58/", trumpet | {"row": "trombone:58:primary", "keys": ["5"]})
    assert FingeringChoice.objects.get(instrument="trombone").own_keys == ["5"]


@pytest.mark.parametrize(
    "address",
    [
        "/fingerings/kazoo/",
        "/fingerings/snare/",
        "/fingerings/alto_sax/5/",
        "/fingerings/alto_sax/67/?row=saxophone:68:primary",
    ],
)
def test_what_is_not_there_is_404(client: Client, address: str) -> None:
    assert client.get(address).status_code == 404


def test_the_switches_of_the_band_reach_the_engine(client: Client, band: Band) -> None:
    assert fingering_settings(band) == DEFAULT_SETTINGS
    sent = {"courtesy_signs": "on", "key_limit": "5", "switches": ["bis_flats", "double_horn"]}
    assert client.post("/fingerings/settings/", sent).status_code == 302
    settings = fingering_settings(Band.objects.get(pk=band.pk))
    assert (settings.bis_flats, settings.double_horn, settings.sticking) == (True, True, False)


def test_reminder_signs_and_the_limit_of_signs_reach_the_parts(
    client: Client, exercise: Exercise, band: Band
) -> None:
    """Concert A (three sharps) is six sharps for an alto sax: six flats until seven are allowed."""
    line = exercise.lines.get(label="A")
    line.score = line.score | {"fifths": 3}
    line.save(update_fields=["score"])
    assert part_of(line=line, instrument="alto_sax").line.fifths == -6
    client.post("/fingerings/settings/", {"key_limit": "7"})
    line = ExerciseLine.objects.get(pk=line.pk)
    assert part_of(line=line, instrument="alto_sax").line.fifths == 6
    assert PartPolicy.objects.get().courtesy_signs is False


@pytest.mark.parametrize("limit", ["2", "8", "x", ""])
def test_a_limit_that_cannot_be_is_said(client: Client, limit: str) -> None:
    answer = client.post("/fingerings/settings/", {"key_limit": limit})
    assert answer.status_code == 422
    assert "3 to 7" in text_of(answer)
    assert not PartPolicy.objects.exists()


def test_the_list_of_tables_costs_the_same_with_many_words_said(
    client: Client, band: Band, django_assert_num_queries: Callable[..., object]
) -> None:
    # session, user, membership; seats, policy, the director's words
    with django_assert_num_queries(6):
        client.get("/fingerings/")
    page = text_of(client.get(SAX))
    rows = [piece.partition('"')[0] for piece in page.split('name="row" value="')[1:]]
    client.post(f"{SAX}confirm/", {"row": rows})
    with django_assert_num_queries(6):
        client.get("/fingerings/")
    # session, user, membership; words, policy
    with django_assert_num_queries(5):
        client.get(SAX)


def test_a_substitute_looks_and_does_not_change(
    substitute: Membership, sign_in: Callable[..., Client]
) -> None:
    client = sign_in(substitute.user)
    assert "wait for a director’s yes" in text_of(client.get("/fingerings/"))
    page = text_of(client.get(SAX))
    assert "Wants a director’s yes" in page
    assert "Yes, that is right" not in page
    assert client.post(f"{SAX}confirm/", {"row": [G4]}).status_code == 404
    assert not FingeringChoice.objects.exists()
