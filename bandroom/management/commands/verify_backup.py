"""Reads a backup from its first byte to its last."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import BaseCommand, CommandError

from bandroom.backups.checking import find_faults
from bandroom.backups.manifest import BackupRefused, Manifest


class Command(BaseCommand):
    help = "Read a whole backup and compare every file with its SHA-256."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path)

    def handle(self, *args: Any, folder: Path, **options: Any) -> None:
        try:
            manifest = Manifest.read(folder)
            wrong = find_faults(folder)
        except BackupRefused as refused:
            raise CommandError(str(refused)) from None
        if wrong:
            names = "".join(f"\n  {name}: {why}" for name, why in sorted(wrong.items()))
            raise CommandError(f"{len(wrong)} file(s) are not whole:{names}")
        self.stdout.write(
            f"The backup of {manifest.made_at} is whole: the database, {sum(manifest.rows.values())} rows, "
            f"and {len(manifest.takes)} recordings."
        )
