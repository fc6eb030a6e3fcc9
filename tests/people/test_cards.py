"""Sign-in cards: what is printed, what is stored, what ends; nothing is fetched for them."""

import io
import re
import shutil
import socket
import subprocess
from datetime import datetime
from pathlib import Path

import pypdf
import pytest
import segno
from django.test import Client
from django.urls import reverse
from PIL import Image

from bandroom.people.cards.pdf import cards_pdf
from bandroom.people.cards.qr import QUIET_ZONE, qr_drawing
from bandroom.people.errors import Refused
from bandroom.people.models import Band, Membership, Seat, Section, User
from bandroom.people.paper import Paper
from bandroom.people.printing.pdf import OwnFilesOnly
from bandroom.people.queries import places_of
from bandroom.people.services.cards import Card, draw_cards, keep_cards
from bandroom.people.services.students import leave_band
from tests import factories
from tests.people.issuing import issue_cards
from tests.people.qr_reader import read_qr

PRINT = reverse("people:cards-print")
ADDRESS = "https://band.larkmere.example/sign-in/"
POINTS = {Paper.LETTER: (612, 792), Paper.A4: (595.28, 841.89)}  # 1/72 inch


def card(number: int = 1, **fields: str) -> Card:
    given = {
        "name": f"Amaru V{number}.",
        "section": "Flute, period 2",
        "instrument": "Flute",
        "name_id": f"amaru-{number}",
        "passphrase": "copper-lantern-river",
    }
    return Card(membership=number, user=number, hashed="", **(given | fields))


def pdf_of(cards: list[Card], *, paper: Paper = Paper.LETTER) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(cards_pdf(cards, address=ADDRESS, paper=paper)))


@pytest.fixture
def students(section: Section) -> list[Membership]:
    return [
        factories.make_seat(
            section=section, student=factories.make_user(first_name=name, last_name="Villeneuve")
        ).student.memberships.get()
        for name in ("Amaru", "Odalys", "Wren")
    ]


# The page, read back by pypdf


@pytest.mark.parametrize(
    ("paper", "count", "pages"), [(Paper.LETTER, 8, 1), (Paper.LETTER, 9, 2), (Paper.A4, 9, 2)]
)
def test_eight_cards_stand_on_a_page(paper: Paper, count: int, pages: int) -> None:
    reader = pdf_of([card(number) for number in range(1, count + 1)], paper=paper)
    assert len(reader.pages) == pages
    for page in reader.pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(
            POINTS[paper], abs=0.5
        )
    texts = [page.extract_text() for page in reader.pages]
    for number in range(1, count + 1):
        assert re.search(rf"amaru-{number}\b", texts[(number - 1) // 8])


def test_a_card_carries_everything_to_sign_in_with() -> None:
    text = pdf_of([card()]).pages[0].extract_text()
    for said in (
        "Amaru V1.",
        "Flute, period 2",
        "amaru-1",
        "copper",
        "lantern",
        "river",
        "band.larkmere.example/sign-in",
    ):
        assert said in text


def test_long_names_and_words_stay_on_their_card() -> None:
    """Eight cards of the longest things that can be printed are still one page."""
    long = {
        "name": "Bartholomew-Maximilian W.",
        "section": "Percussion and everything else that is hit, period 11 of the second day",
        "instrument": "Baritone (treble clef)",
        "name_id": "bartholomew-maxi-10000",
        "passphrase": "porcupine-butterfly-northwest",
    }
    reader = pdf_of([card(number, **long) for number in range(8)])
    assert len(reader.pages) == 1
    assert reader.pages[0].extract_text().count("bartholomew-maxi-10000") == 8


@pytest.mark.parametrize(
    "name",
    ["Anne Wolfeschlegelsteinhausenbergerdorff", "Chukwuemeka Oluwaseun Papadopoulos-Smith-Jørgensen"],
)
def test_the_address_stands_inside_a_card_whatever_the_name(name: str) -> None:
    """Half the cards carry the longest tab as well; a line that sticks out of its card is cut off unseen."""
    cards = [card(n, name=name, instrument=("Flute", "Baritone (treble clef)")[n % 2]) for n in range(8)]
    at = []

    def look(text: str, user: list[float], matrix: list[float], *_: object) -> None:
        if "band.larkmere.example" in text:
            at.append(POINTS[Paper.LETTER][1] - (matrix[5] * user[3] + user[5]))

    pdf_of(cards).pages[0].extract_text(visitor_text=look)
    ends = [0.4 * 72 + 2.5 * 72 * (row + 1) for row in range(4) for _ in "AB"]
    assert len(at) == 8
    assert [down < end - 0.1 * 72 for down, end in zip(sorted(at), ends, strict=True)] == [True] * 8


def test_html_in_a_name_is_printed_as_it_is() -> None:
    text = pdf_of([card(name="<b>Ada</b> & Co", section="<img src=x>")]).pages[0].extract_text()
    assert "<b>Ada</b> & Co" in text
    assert "<img src=x>" in text


def test_the_fonts_are_ours_and_inside_the_file() -> None:
    fonts = pdf_of([card()]).pages[0]["/Resources"]["/Font"].values()
    names = {str(font.get_object()["/BaseFont"]) for font in fonts}
    assert any("Atkinson" in name for name in names)
    assert any("Bricolage" in name for name in names)


def test_nothing_is_fetched_while_a_page_is_made(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_network(*_args: object, **_kwargs: object) -> None:
        raise AssertionError("a socket was opened")

    monkeypatch.setattr(socket.socket, "connect", no_network)
    assert pdf_of([card(name='<img src="https://evil.example/x.png">')]).pages


@pytest.mark.parametrize(
    "url",
    [
        "https://evil.example/x",
        "file:///etc/passwd",
        "bandroom:../../etc/passwd",
        "data:text/css,a",
        "ftp://x/y",
    ],
)
def test_the_fetcher_refuses_everything_but_its_own_files(url: str) -> None:
    with pytest.raises(PermissionError):
        OwnFilesOnly().fetch(url)


# The QR code, read back by a reader of our own from the standard


def modules_of(path: str, side: int) -> list[list[bool]]:
    """The squares that the SVG path fills, without the quiet zone."""
    dark = [[False] * side for _ in range(side)]
    for x, y, width in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", path):
        for column in range(int(x), int(x) + int(width)):
            dark[int(y)][column] = True
    assert not any(any(row) for row in dark[:QUIET_ZONE] + dark[-QUIET_ZONE:])
    return [row[QUIET_ZONE:-QUIET_ZONE] for row in dark[QUIET_ZONE:-QUIET_ZONE]]


@pytest.mark.parametrize(
    "address",
    [
        "https://x.example/sign-in/",
        ADDRESS,
        "https://band.a-rather-long-school-district-name.k12.example.us/sign-in/",
        "https://bandroom.the-longest-school-district-name-anyone-could-type.k12.example.us:8443/sign-in/",
    ],
)
def test_the_drawn_code_reads_back_as_the_address(address: str) -> None:
    drawing = qr_drawing(address)
    assert read_qr(modules_of(drawing.path, drawing.side)) == address


def test_the_reader_is_right_about_what_the_library_draws_for_each_mask() -> None:
    for mask in range(8):
        code = segno.make(ADDRESS, error="m", micro=False, mask=mask, boost_error=False)
        assert read_qr([[bool(dark) for dark in row] for row in code.matrix]) == ADDRESS


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm is not on this machine")
def test_the_printed_code_reads_back_from_the_picture_of_the_page(tmp_path: Path) -> None:
    """300 dots an inch, as an office printer prints."""
    (tmp_path / "cards.pdf").write_bytes(cards_pdf([card()], address=ADDRESS, paper=Paper.LETTER))
    subprocess.run(["pdftoppm", "-r", "300", "-gray", "-png", "cards.pdf", "page"], cwd=tmp_path, check=True)
    [png] = tmp_path.glob("page*.png")
    picture = Image.open(png).convert("L")
    # the code is the only thing with large black squares: pure black, the text is dark violet
    left, top, right, bottom = picture.point(lambda grey: 255 if grey < 8 else 0).getbbox()
    side = qr_drawing(ADDRESS).side - 2 * QUIET_ZONE
    step = (right - left) / side
    assert step == pytest.approx((bottom - top) / side, rel=0.02)
    dark = [
        [picture.getpixel((left + (j + 0.5) * step, top + (i + 0.5) * step)) < 128 for j in range(side)]
        for i in range(side)
    ]
    assert read_qr(dark) == ADDRESS


# What is issued and stored


@pytest.mark.django_db
def test_a_printed_card_signs_in_and_the_database_cannot_read_it_back(
    band: Band, students: list[Membership], at: datetime
) -> None:
    cards = issue_cards(band=band, at=at)
    assert [c.name for c in cards] == ["Amaru V.", "Odalys V.", "Wren V."]
    for drawn in cards:
        user = User.objects.get(pk=drawn.user)
        assert user.check_password(drawn.passphrase)
        assert not any(word in user.password for word in drawn.words)
        assert (
            Client()
            .post(
                reverse("people:sign-in"),
                {"username": drawn.name_id, "word_1": " ".join(drawn.words).upper()},
            )
            .status_code
            == 302
        )
    assert set(
        Membership.objects.filter(pk__in=[m.pk for m in students]).values_list("card_issued_at", flat=True)
    ) == {at}


@pytest.mark.django_db
def test_a_new_card_ends_the_old_one_and_its_sessions_and_nobody_elses(
    sign_in, band: Band, students: list[Membership], at: datetime
) -> None:
    first = issue_cards(band=band, at=at)
    clients = [sign_in(User.objects.get(pk=drawn.user)) for drawn in first]
    issue_cards(band=band, memberships=[students[0].pk], at=at)
    assert clients[0].get(reverse("people:choose-band")).status_code == 302
    assert clients[1].get(reverse("people:choose-band")).status_code == 200
    assert not User.objects.get(pk=first[0].user).check_password(first[0].passphrase)


@pytest.mark.django_db
def test_two_of_one_short_name_carry_their_whole_names(band: Band, section: Section) -> None:
    for last_name in ("Marsh", "Moreau", "Petrov"):
        factories.make_seat(
            section=section, student=factories.make_user(first_name="Ada", last_name=last_name)
        )
    assert [c.name for c in draw_cards(places_of(band))] == ["Ada Marsh", "Ada Moreau", "Ada P."]


@pytest.mark.django_db
def test_the_number_of_queries_does_not_grow_with_the_cards(
    band: Band, section: Section, at: datetime, django_assert_num_queries
) -> None:
    for _ in range(30):
        factories.make_seat(section=section)
    cards = draw_cards(places_of(band))
    for some in (cards[:1], cards):
        with django_assert_num_queries(5):  # savepoint and release, members, users, memberships
            keep_cards(band=band, cards=some, at=at)


@pytest.mark.django_db
def test_invented_schools_can_give_their_own_words(band: Band, seat: Seat, at: datetime) -> None:
    member = seat.student.memberships.get()
    [drawn] = issue_cards(band=band, passphrases={member.pk: "Copper Lantern River"}, at=at)
    assert drawn.passphrase == "copper-lantern-river"


@pytest.mark.django_db
def test_a_student_who_left_meanwhile_stops_the_whole_print(
    band: Band, students: list[Membership], at: datetime
) -> None:
    cards = draw_cards(places_of(band))
    leave_band(membership=students[0], at=at)
    with pytest.raises(Refused, match="choose again"):
        keep_cards(band=band, cards=cards, at=at)
    assert not Membership.objects.filter(card_issued_at__isnull=False).exists()


# The pages


@pytest.mark.django_db
def test_the_director_prints_the_ticked_cards(
    sign_in, director: Membership, students: list[Membership]
) -> None:
    chosen = [students[0].pk, students[2].pk]
    answer = sign_in(director.user).post(PRINT, {"students": chosen, "paper": "a4"})
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Cache-Control"].startswith("max-age=0, no-cache, no-store")
    assert re.fullmatch(
        r'attachment; filename="sign-in-cards-[0-9-]{10}\.pdf"', answer["Content-Disposition"]
    )
    text = pypdf.PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
    assert "Amaru V." in text
    assert "Wren V." in text
    assert "Odalys" not in text
    assert "testserver/sign-in" in text
    words = re.search(r"Three words\s+([a-z]+)\s+([a-z]+)\s+([a-z]+)", text)
    assert words
    assert (
        students[0]
        .user.__class__.objects.get(pk=students[0].user_id)
        .check_password("-".join(words.groups()))
    )
    assert set(Membership.objects.filter(card_issued_at__isnull=False).values_list("pk", flat=True)) == set(
        chosen
    )


@pytest.mark.django_db
def test_a_page_that_cannot_be_made_ends_nobodys_card(
    sign_in, director: Membership, students: list[Membership], monkeypatch: pytest.MonkeyPatch, at: datetime
) -> None:
    issue_cards(band=director.band, at=at)
    before = dict(User.objects.values_list("pk", "password"))

    def broken(*_args: object, **_kwargs: object) -> bytes:
        raise OSError("no space left on device")

    monkeypatch.setattr("bandroom.people.printing.pdf.weasyprint.HTML", broken)
    client = sign_in(director.user)
    with pytest.raises(OSError, match="no space"):
        client.post(PRINT, {"students": [students[0].pk], "paper": "letter"})
    assert dict(User.objects.values_list("pk", "password")) == before


@pytest.mark.django_db
def test_those_without_a_card_are_ticked(
    sign_in, director: Membership, students: list[Membership], at: datetime
) -> None:
    issue_cards(band=director.band, memberships=[students[0].pk], at=at)
    page = sign_in(director.user).get(reverse("people:cards")).content.decode()
    ticked = re.findall(r'name="students" value="(\d+)" checked', page)
    assert ticked == [str(students[1].pk), str(students[2].pk)]
    assert "Printing makes new words." in page
    one = sign_in(director.user).get(reverse("people:cards"), {"student": students[0].pk}).content.decode()
    assert re.findall(r'name="students" value="(\d+)" checked', one) == [str(students[0].pk)]


@pytest.mark.django_db
@pytest.mark.parametrize("sent", [{}, {"students": ["x"]}, {"students": ["999999"]}])
def test_a_choice_that_cannot_be_is_said_and_changes_nothing(
    sign_in, director: Membership, students: list[Membership], sent: dict[str, list[str]]
) -> None:
    answer = sign_in(director.user).post(PRINT, {"paper": "letter", **sent})
    assert answer.status_code == 422
    assert "Please look again." in answer.content.decode()
    assert not Membership.objects.filter(card_issued_at__isnull=False).exists()


@pytest.mark.django_db
def test_cards_of_another_band_or_of_staff_are_not_printed(
    sign_in, director: Membership, students: list[Membership]
) -> None:
    elsewhere = factories.make_seat(
        section=factories.make_section(band=factories.make_band(name="Jazz Band"))
    )
    for pk in (elsewhere.student.memberships.get().pk, director.pk):
        answer = sign_in(director.user).post(PRINT, {"students": [pk], "paper": "letter"})
        assert answer.status_code == 422


@pytest.mark.django_db
def test_more_cards_than_one_request_can_make_are_refused(
    sign_in, director: Membership, students: list[Membership], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bandroom.people.forms.cards.MOST_CARDS", 2)
    answer = sign_in(director.user).post(PRINT, {"students": [m.pk for m in students], "paper": "letter"})
    assert "At most 2 cards are printed at once" in answer.content.decode()


@pytest.mark.parametrize(
    ("zone", "paper"),
    [
        ("America/Chicago", Paper.LETTER),
        ("Pacific/Honolulu", Paper.LETTER),
        ("Europe/Oslo", Paper.A4),
        ("Pacific/Auckland", Paper.A4),
    ],
)
def test_the_usual_paper_follows_the_time_zone(zone: str, paper: Paper) -> None:
    assert Paper.usual_in(zone) is paper
