"""Copies the database and every recording into a folder, while the school works."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import BaseCommand, CommandError
from django.utils.timezone import now

from bandroom.backups.making import make_backup
from bandroom.backups.manifest import BackupRefused
from bandroom.backups.trouble import TROUBLE, in_words

NAMED_AT_MOST = 20


class Command(BaseCommand):
    help = "Copy the database and every recording into a new folder, with the SHA-256 of each file."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="a folder that is made, or an empty one")

        parser.add_argument(
            "--like",
            type=Path,
            metavar="FOLDER",
            help="an earlier backup on the same disk: recordings that it holds are not copied once more",
        )

    def handle(self, *args: Any, folder: Path, like: Path | None, **options: Any) -> None:
        try:
            made = make_backup(folder=folder, at=now(), tell=self.stdout.write, like=like)
        except (BackupRefused, *TROUBLE) as error:
            raise CommandError(f"No backup was made. {in_words(error)}") from None
        takes = made.manifest.takes
        megabytes = (made.manifest.database.bytes + sum(one.bytes for one in takes)) / 1e6
        self.stdout.write(f"{folder}: the database and {len(takes)} recordings, {megabytes:.0f} MB.")
        if made.orphans:
            self.stdout.write(
                f"{len(made.orphans)} file(s) in the storage belong to no recording and were left out:"
            )
            for name in made.orphans[:NAMED_AT_MOST]:
                self.stdout.write(f"  {name}")
        if made.manifest.faults:
            names = "".join(f"\n  {name}: {why}" for name, why in sorted(made.manifest.faults.items()))
            count = len(made.manifest.faults)
            raise CommandError(f"Everything else is copied, but {count} recording(s) are not whole:{names}")
