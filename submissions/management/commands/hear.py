"""Asks the listener for what its current version has not heard yet."""

from argparse import ArgumentParser
from typing import Any

from django.core.management import BaseCommand, CommandError
from django.utils.timezone import now

from submissions.listening import ENGINE_VERSION
from submissions.takes.tasks import hear_stale


class Command(BaseCommand):
    help = "Queue takes for the listener. The worker (manage.py work) then hears them."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--stale",
            action="store_true",
            help="every take that this version of the listener has not heard; earlier evidence is kept",
        )

    def handle(self, *args: Any, stale: bool, **options: Any) -> None:
        if not stale:
            raise CommandError("Say which takes to hear: hear --stale.")
        asked = hear_stale(at=now())
        lines = "line is" if asked == 1 else "lines are"
        self.stdout.write(f"{asked} {lines} queued for version {ENGINE_VERSION} of the listener.")
