"""A backup is made while the school works."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.core.files.storage import Storage, storages
from django.db import connection

from bandroom.backups import databases
from bandroom.backups.manifest import BackupRefused, Manifest, Stored, copy_parts, parts_of, stored
from submissions.takes.inventory import Named, named_files, stored_names, stored_takes

#: A file can go after the database was copied: a piece that became part of its take, a take whose time was
#: over. Then the database is copied once more, which takes seconds since nearly all files are here.
PASSES = 5


@dataclass(frozen=True, slots=True)
class Made:
    manifest: Manifest
    #: Files that lie in the storage and that no row names.
    orphans: list[str]


def make_backup(
    *, folder: Path, at: datetime, tell: Callable[[str], object], like: Path | None = None
) -> Made:
    """Copy everything into `folder`, which is made; raises BackupRefused.

    Recordings that are missing or that are not what a phone declared are named in the manifest. What the
    backup `like` holds is not copied once more: a recording never changes under its name. Both folders then
    share one file, so they must lie on one disk.
    """
    earlier = _recordings_of(like) if like else {}
    _make_folder(folder)
    takes = storages["takes"]
    before = set(stored_takes(takes))
    here: dict[str, Stored] = {}
    for number in range(1, PASSES + 1):
        with databases.copied(folder):
            rows = databases.counted_rows()
            named = list(named_files())
        tell(f"The database is copied; {len(named)} recordings are named in it.")
        if like:
            here |= _link(named, earlier, source=like / "takes", into=folder / "takes")
        gone = _fetch(takes, named, into=folder / "takes", here=here)
        if not gone or number == PASSES:
            break
    wanted = {one.name for one in named}
    for name in here.keys() - wanted:
        (folder / "takes" / name).unlink()
        del here[name]
    erasures = storages["erasures"]
    database = databases.file_name()
    manifest = Manifest(
        made_at=at.isoformat(),
        vendor=connection.vendor,
        database=stored(folder / database, name=database),
        rows=rows,
        takes=sorted(here.values(), key=lambda one: one.name),
        erasures=[_copy(erasures, name, folder / "erasures") for name in stored_names(erasures)],
        faults=dict(faults(named, here)),
    )
    manifest.write(folder)
    # What was stored when the copy began, and no row names then or now: nothing that is only just arriving.
    orphans = before - wanted - {one.name for one in named_files()}
    return Made(manifest, sorted(name for name in orphans if takes.exists(name)))


def faults(named: Iterable[Named], here: dict[str, Stored]) -> Iterable[tuple[str, str]]:
    """Of files that must be there: which are not, or are not what was declared."""
    for one in named:
        copy = here.get(one.name)
        if copy is None:
            if one.must_be_there:
                yield one.name, "missing"
        elif one.sha256 is not None and copy.sha256 != one.sha256:
            yield one.name, "not what was declared"
        elif one.bytes is not None and copy.bytes != one.bytes:
            yield one.name, f"{copy.bytes} bytes, expected {one.bytes}"


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        if any(folder.iterdir()):
            raise BackupRefused(f"{folder} is not empty: name a new folder, such as one with today's date.")
    except OSError as error:
        raise BackupRefused(f"{folder} cannot be used: {error.strerror}.") from None


def _recordings_of(backup: Path) -> dict[str, Stored]:
    return {one.name: one for one in Manifest.read(backup).takes}


def _link(
    named: Iterable[Named], earlier: dict[str, Stored], *, source: Path, into: Path
) -> dict[str, Stored]:
    """Give the new backup the files that an earlier one holds whole, after reading them."""
    linked = {}
    for one in named:
        known, target = earlier.get(one.name), into / one.name
        if known is None or target.exists() or (one.sha256 or known.sha256) != known.sha256:
            continue
        try:
            if stored(source / one.name, name=one.name) != known:
                continue
        except FileNotFoundError:
            continue
        target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        target.hardlink_to(source / one.name)
        linked[one.name] = known
    return linked


def _fetch(storage: Storage, named: Iterable[Named], *, into: Path, here: dict[str, Stored]) -> bool:
    """Copy what is not here yet; whether something was gone that must be there."""
    gone = False
    for one in named:
        if one.name in here:
            continue
        try:
            here[one.name] = _copy(storage, one.name, into)
        except FileNotFoundError:
            gone = gone or one.must_be_there
    return gone


def _copy(storage: Storage, name: str, into: Path) -> Stored:
    with storage.open(name, "rb") as file:
        return copy_parts(parts_of(file), into / name, name=name)
