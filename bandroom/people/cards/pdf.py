"""The printed page of cards. Nothing is fetched: styles and fonts are read from our own folders."""

from collections.abc import Sequence
from pathlib import Path
from urllib.parse import urlsplit

import weasyprint
from django.template.loader import render_to_string
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

import bandroom
from bandroom.people.cards.qr import qr_drawing
from bandroom.people.paper import Paper
from bandroom.people.services.cards import Card

CARDS_A_PAGE = 8
HERE = Path(__file__).parent
FONTS = Path(bandroom.__file__).parent / "static" / "bandroom" / "fonts"
# The only addresses a card may name, under a scheme of our own that no network knows.
OWN = {
    "bandroom:atkinson.woff2": (FONTS / "atkinson.woff2", "font/woff2"),
    "bandroom:bricolage.woff2": (FONTS / "bricolage.woff2", "font/woff2"),
}


class OwnFilesOnly(URLFetcher):  # type: ignore[misc]  # the library has no types
    """Hands out the files of OWN and refuses every other address, on the network and on the disk."""

    def __init__(self) -> None:
        super().__init__(allowed_protocols=["bandroom"], allow_redirects=False, fail_on_errors=True)

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
        if url not in OWN:
            raise PermissionError(f"A card may not fetch {url}.")
        path, kind = OWN[url]
        return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": kind})


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
    fetcher, fonts = OwnFilesOnly(), FontConfiguration()
    styles = (HERE / "sheet.css").read_text(encoding="utf-8")
    sheet = weasyprint.CSS(string=styles, url_fetcher=fetcher, font_config=fonts)
    document = weasyprint.HTML(string=html, url_fetcher=fetcher)
    return bytes(document.write_pdf(stylesheets=[sheet], font_config=fonts))
