"""A backup is read from its first byte to its last and compared with its manifest."""

from pathlib import Path

from bandroom.backups import databases
from bandroom.backups.manifest import Manifest, Stored, stored


def find_faults(folder: Path) -> dict[str, str]:
    """What is wrong with a backup: file by file, empty if it is whole. Raises BackupRefused for no backup."""
    manifest = Manifest.read(folder)
    found = dict(manifest.faults)
    found |= _compare(folder, manifest.database)
    for kind, files in (("takes", manifest.takes), ("erasures", manifest.erasures)):
        for one in files:
            found |= _compare(folder / kind, one)
    name = manifest.database.name
    if name not in found and (
        why := databases.faults_of(folder / name, vendor=manifest.vendor, rows=manifest.rows)
    ):
        found[name] = why
    return found


def _compare(folder: Path, expected: Stored) -> dict[str, str]:
    try:
        found = stored(folder / expected.name, name=expected.name)
    except FileNotFoundError:
        return {expected.name: "missing"}
    except OSError as error:
        return {expected.name: f"cannot be read: {error.strerror}"}
    return {} if found == expected else {expected.name: "changed since it was copied"}
