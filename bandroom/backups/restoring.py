"""A backup is put back: the database, the recordings, and then everybody erased since is erased again."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.files import File
from django.core.files.storage import FileSystemStorage, Storage, storages
from django.core.management import call_command
from django.db import connection
from django.db.utils import DatabaseError

from bandroom.backups import databases
from bandroom.backups.checking import find_faults
from bandroom.backups.manifest import BackupRefused, Manifest, Stored, parts_of, sha256_of
from bandroom.people.models import Band
from bandroom.people.services.erasures import erase_again, keys_in, write_notes
from submissions.takes.inventory import named_files, stored_takes

NAMED_AT_MOST = 5


@dataclass(frozen=True, slots=True)
class Restored:
    files: int
    erased_again: int
    #: Recordings of the backup that were not whole and were left out.
    left_out: dict[str, str]
    #: Recordings in the storage that the database of the backup does not know.
    unknown: int


def restore(
    *,
    folder: Path,
    at: datetime,
    replace: bool,
    damaged: bool,
    notes: Path | None,
    tell: Callable[[str], object],
) -> Restored:
    """Put a backup back; raises BackupRefused before anything is changed.

    `replace` allows it over a database with a band in it, `damaged` leaves out what is not whole, `notes`
    is a folder with further notes of erasures, as of a machine that is lost.
    """
    manifest = Manifest.read(folder)
    tell("Reading the backup.")
    wrong = find_faults(folder)
    _refuse(manifest, wrong=wrong, replace=replace, damaged=damaged)

    takes, erasures = storages["takes"], storages["erasures"]
    if _has_a_band():
        write_notes(at=at)
        kept = Path(settings.VAR_DIR) / "before-restore" / f"{at:%Y%m%d-%H%M%S}"
        kept.mkdir(parents=True, mode=0o700)
        with databases.copied(kept):
            tell(f"The database as it was is kept in {kept}; delete it once all is well.")
    databases.put_back(folder / manifest.database.name)
    tell(f"The database of {manifest.made_at} is back.")
    call_command("migrate", verbosity=0)
    # Who was signed in then is asked again: what was taken from them since must not come back.
    Session.objects.all().delete()
    for one in manifest.erasures:
        if one.name not in wrong:
            _put(erasures, one, folder / "erasures" / one.name)
    keys = set(keys_in(erasures))
    if notes is not None:
        keys |= set(keys_in(FileSystemStorage(location=notes)))
    again = erase_again(keys=keys, at=at)
    write_notes(at=at)
    # After that, so that no sound of an erased student is put back for a moment.
    named = {one.name for one in named_files()}
    whole = [one for one in manifest.takes if one.name in named and one.name not in wrong]
    files = sum(_put(takes, one, folder / "takes" / one.name) for one in whole)
    left_out = {name: why for name, why in wrong.items() if name != manifest.database.name}
    return Restored(
        files=files,
        erased_again=again,
        left_out=left_out,
        unknown=len(set(stored_takes(takes)) - named),
    )


def _refuse(manifest: Manifest, *, wrong: dict[str, str], replace: bool, damaged: bool) -> None:
    if manifest.vendor != connection.vendor:
        raise BackupRefused(
            f"This backup is of {manifest.vendor}, DATABASE_URL names {connection.vendor}; they must agree."
        )
    if why := wrong.get(manifest.database.name):
        raise BackupRefused(f"The database of this backup is not whole ({why}): take another backup.")
    if wrong and not damaged:
        names = ", ".join(f"{name} ({why})" for name, why in list(wrong.items())[:NAMED_AT_MOST])
        raise BackupRefused(
            f"{len(wrong)} file(s) of this backup are not whole: {names}. "
            "Take another backup, or restore what is whole of this one with --damaged."
        )
    if not replace and _has_a_band():
        raise BackupRefused(
            "There is a band in this database. Make a backup of it, and restore over it with --replace."
        )


def _has_a_band() -> bool:
    try:
        return Band.objects.exists()
    except DatabaseError:  # nobody has migrated it yet
        return False


def _put(storage: Storage, one: Stored, source: Path) -> bool:
    """Store one file where it is not there as it should be; whether that was needed."""
    if storage.exists(one.name):
        if storage.size(one.name) == one.bytes and _same(storage, one):
            return False
        storage.delete(one.name)
    with source.open("rb") as file:
        storage.save(one.name, File(file))
    return True


def _same(storage: Storage, one: Stored) -> bool:
    with storage.open(one.name, "rb") as file:
        return sha256_of(parts_of(file)) == one.sha256
