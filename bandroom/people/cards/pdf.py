"""The printed page of cards."""

from collections.abc import Sequence
from pathlib import Path
from urllib.parse import urlsplit

from django.template.loader import render_to_string

from bandroom.people.cards.qr import qr_drawing
from bandroom.people.paper import Paper
from bandroom.people.printing.pdf import pdf_of
from bandroom.people.services.cards import Card

CARDS_A_PAGE = 8
SHEET = Path(__file__).parent / "sheet.css"


def cards_pdf(cards: Sequence[Card], *, address: str, paper: Paper) -> bytes:
    """Eight to a page. `address` is where to sign in, printed short and as a QR code."""
    parts = urlsplit(address)
    html = render_to_string(
        "people/card_sheet.html",
        {
            "pages": [cards[first : first + CARDS_A_PAGE] for first in range(0, len(cards), CARDS_A_PAGE)],
            "address": parts.netloc + parts.path.rstrip("/"),
            "qr": qr_drawing(address),
            "paper": paper,
        },
    )
    return pdf_of(html, styles=[SHEET])
