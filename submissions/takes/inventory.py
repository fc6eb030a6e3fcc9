"""What the takes storage should hold by a database, and what lies there that no row names."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.core.files.storage import Storage

from submissions.models import Piece, Take

#: The bytes of these are all here and were checked: their receipt told a phone to let go of its copy.
HELD = (Take.State.RECEIVED, Take.State.PREPARING, Take.State.READY, Take.State.REFUSED)


@dataclass(frozen=True, slots=True)
class Named:
    """One file that a row names. What is unknown of it is None."""

    name: str
    sha256: str | None = None
    bytes: int | None = None
    # A name stands on record before its file does; until then it may be missing.
    must_be_there: bool = False


def named_files() -> Iterator[Named]:
    """Every file of the takes storage that the database names."""
    rows = Take.objects.values_list(
        "state", "original", "declared_sha256", "declared_bytes", "served", "served_bytes"
    )
    for state, original, sha256, size, served, served_bytes in rows.iterator():
        if original:
            held = state in HELD
            yield Named(original, sha256 if held else None, size if held else None, must_be_there=held)
        if served:
            ready = state == Take.State.READY
            yield Named(served, bytes=served_bytes if ready else None, must_be_there=ready)
    # A piece goes once its take is whole. Without it the phone sends from there again.
    for name, size in Piece.objects.values_list("name", "bytes").iterator():
        yield Named(name, bytes=size)


def stored_takes(storage: Storage) -> Iterator[str]:
    """Every file of the takes storage; in a bucket the notes of erasures lie beside them."""
    return (name for name in stored_names(storage) if not name.startswith("erasures/"))


def stored_names(storage: Storage, folder: str = "") -> Iterator[str]:
    """Every file of a storage, folder by folder."""
    try:
        folders, files = storage.listdir(folder)
    except FileNotFoundError:
        return
    prefix = f"{folder}/" if folder else ""
    yield from (f"{prefix}{name}" for name in files if name)
    for name in folders:
        yield from stored_names(storage, f"{prefix}{name}")
