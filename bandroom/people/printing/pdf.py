"""HTML becomes a PDF. Nothing is fetched: styles and fonts are read from our own folders."""

import contextlib
import io
from collections.abc import Sequence
from pathlib import Path

import bandroom
from bandroom.people.printing import CannotPrint

try:
    # Without Pango it prints paragraphs before it gives up; CannotPrint says it in a line.
    with contextlib.redirect_stdout(io.StringIO()):
        import weasyprint
        from weasyprint.text.fonts import FontConfiguration
        from weasyprint.urls import URLFetcher, URLFetcherResponse
except OSError as missing:  # a library of the system that it draws with
    raise CannotPrint from missing

PAGE = Path(__file__).parent / "page.css"
FONTS = Path(bandroom.__file__).parent / "static" / "bandroom" / "fonts"
# The only addresses a page may name, under a scheme of our own that no network knows.
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
            raise PermissionError(f"A printed page may not fetch {url}.")
        path, kind = OWN[url]
        return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": kind})


def pdf_of(html: str, *, styles: Sequence[Path]) -> bytes:
    """The PDF of `html`, under the fonts and sizes of every page and then these style sheets.

    Raises PermissionError when the HTML or a sheet names an address that is not in OWN.
    """
    fetcher, fonts = OwnFilesOnly(), FontConfiguration()
    sheets = [
        weasyprint.CSS(string=path.read_text(encoding="utf-8"), url_fetcher=fetcher, font_config=fonts)
        for path in (PAGE, *styles)
    ]
    document = weasyprint.HTML(string=html, url_fetcher=fetcher)
    return bytes(document.write_pdf(stylesheets=sheets, font_config=fonts))
