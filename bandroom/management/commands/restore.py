"""Puts a backup back. Stop the web server and the worker first."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import BaseCommand, CommandError
from django.utils.timezone import now

from bandroom.backups.manifest import BackupRefused
from bandroom.backups.restoring import restore
from bandroom.backups.trouble import TROUBLE, in_words


class Command(BaseCommand):
    help = (
        "Put a backup back: the database, the recordings, and whoever was erased since is erased again. "
        "Stop the web server and the worker first."
    )
    # The database may have no tables yet.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path)
        parser.add_argument("--replace", action="store_true", help="over a database that has a band in it")
        parser.add_argument("--damaged", action="store_true", help="leave out recordings that are not whole")
        parser.add_argument(
            "--erasures", type=Path, help="a folder with more notes of erasures, as BANDROOM_VAR/erasures"
        )

    def handle(
        self,
        *args: Any,
        folder: Path,
        replace: bool,
        damaged: bool,
        erasures: Path | None,
        **options: Any,
    ) -> None:
        try:
            done = restore(
                folder=folder,
                at=now(),
                replace=replace,
                damaged=damaged,
                notes=erasures,
                tell=self.stdout.write,
            )
        except BackupRefused as refused:
            raise CommandError(str(refused)) from None
        except TROUBLE as error:
            raise CommandError(
                f"{in_words(error)} The backup is untouched: put that right and restore again with --replace."
            ) from None
        self.stdout.write(
            f"{done.files} recordings are back; the others were here. "
            f"{done.erased_again} student(s) erased since were erased again. Everybody signs in anew."
        )
        if done.unknown:
            self.stdout.write(
                f"{done.unknown} file(s) in the storage are of no student in this backup: they are younger."
            )
        for name, why in sorted(done.left_out.items()):
            self.stdout.write(f"  left out: {name} ({why})")
