"""Pages for paper: from HTML of our own to a PDF."""

from bandroom.people.errors import Refused

INSTALL_PANGO = "on Debian or Ubuntu: apt-get install libpangoft2-1.0-0"


class CannotPrint(Refused):
    """The Pango library is not on this machine; raised where the maker of PDFs is imported."""

    def __init__(self) -> None:
        super().__init__(
            f"This server cannot print yet: whoever looks after it installs Pango ({INSTALL_PANGO})."
        )


def can_print() -> bool:
    """Whether PDFs can be made here; loads all that makes them."""
    try:
        import bandroom.people.printing.pdf  # noqa: F401, PLC0415 - heavy, and the question itself
    except CannotPrint:
        return False
    return True
