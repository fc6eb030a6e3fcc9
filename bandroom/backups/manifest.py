"""What a backup holds, with the SHA-256 of every file of it."""

import hashlib
import json
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import IO, Any, Self

NAME = "manifest.json"
VERSION = 1
READ_AT_ONCE = 1024 * 1024


class BackupRefused(Exception):
    """Nothing was changed; the message says why in one sentence."""


@dataclass(frozen=True, slots=True)
class Stored:
    """One file: its name in its folder of the backup (and in its storage), its length and its SHA-256."""

    name: str
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    made_at: str
    vendor: str
    database: Stored
    rows: dict[str, int]
    takes: list[Stored] = field(default_factory=list)
    erasures: list[Stored] = field(default_factory=list)
    # Recordings that the database names and that were not to be had whole: name, and what was wrong.
    faults: dict[str, str] = field(default_factory=dict)
    version: int = VERSION

    def write(self, folder: Path) -> None:
        """Under its name only once it is whole: a folder without one is no backup."""
        draft = folder / f"{NAME}.draft"
        draft.write_text(json.dumps(asdict(self), indent=0), encoding="utf-8")
        os.sync()  # what it names is on the disk before it is; once for all files, not once for each
        draft.rename(folder / NAME)
        os.sync()

    @classmethod
    def read(cls, folder: Path) -> Self:
        try:
            told: dict[str, Any] = json.loads((folder / NAME).read_text(encoding="utf-8"))
        except FileNotFoundError:
            raise BackupRefused(
                f"{folder} holds no {NAME}: it is no backup, or one that was not finished."
            ) from None
        except (OSError, ValueError) as error:
            raise BackupRefused(f"{folder / NAME} cannot be read: {error}") from None
        if told.get("version") != VERSION:
            raise BackupRefused(f"{folder} was made by a newer Bandroom; restore it with that one.")
        lists = {name: [Stored(**row) for row in told[name]] for name in ("takes", "erasures")}
        return cls(**(told | lists | {"database": Stored(**told["database"])}))


def copy_parts(parts: Iterable[bytes], target: Path, *, name: str) -> Stored:
    """Write the parts, one after the other, to a file that nobody else may read."""
    digest, size = hashlib.sha256(), 0
    target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with open(target, "wb", opener=_for_us_alone) as out:  # Path.open knows no opener
        for part in parts:
            digest.update(part)
            size += out.write(part)
    return Stored(name=name, bytes=size, sha256=digest.hexdigest())


def stored(path: Path, *, name: str) -> Stored:
    """What lies at `path`; raises FileNotFoundError."""
    digest, size = hashlib.sha256(), 0
    with path.open("rb") as file:
        for part in parts_of(file):
            digest.update(part)
            size += len(part)
    return Stored(name=name, bytes=size, sha256=digest.hexdigest())


def sha256_of(parts: Iterable[bytes]) -> str:
    digest = hashlib.sha256()
    for part in parts:
        digest.update(part)
    return digest.hexdigest()


def parts_of(file: IO[bytes]) -> Iterable[bytes]:
    while part := file.read(READ_AT_ONCE):
        yield part


def _for_us_alone(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)
