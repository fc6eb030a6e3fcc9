"""Tries takes that could not be played once more."""

from argparse import ArgumentParser
from typing import Any

from django.core.management import BaseCommand, CommandError
from django.utils.timezone import now

from submissions.takes.tasks import prepare_refused


class Command(BaseCommand):
    help = (
        "Queue takes that could not be played, after an upgrade. The worker (manage.py work) then tries them."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--again", action="store_true", help="every take that could not be played and is still kept"
        )

    def handle(self, *args: Any, again: bool, **options: Any) -> None:
        if not again:
            raise CommandError("Say which takes to prepare: prepare --again.")
        asked = prepare_refused(at=now())
        self.stdout.write(f"{asked} take{' is' if asked == 1 else 's are'} queued to be prepared again.")
