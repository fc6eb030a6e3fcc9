"""Says which recordings are over their time, and deletes them when a person says so."""

from argparse import ArgumentParser
from typing import Any

from django.core.management import BaseCommand
from django.utils.timezone import now

from bandroom.people.models import Band
from submissions.takes.services.retention import delete_old_takes
from submissions.turn_ins.policy import policy_of
from submissions.upkeep import clock, ending


class Command(BaseCommand):
    help = (
        "Tell how many recordings are over their time. The worker deletes them by itself: in a day never "
        "more than ever fell due on one, and none while the computer's clock is doubted. --confirm says that "
        "today's date is right and deletes all of them now."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--confirm", action="store_true", help="today's date is right: delete them now")

    def handle(self, *args: Any, confirm: bool, **options: Any) -> None:
        at = now()
        if confirm:
            told = delete_old_takes(at=at, confirmed=True)
            self.stdout.write(f"Deleted {told.deleted}; {told.waiting} could not be deleted and come again.")
            return
        self.stdout.write(f"Today is {at:%A, %d %B %Y}, by this computer's clock.")
        if doubt := clock.doubt():
            self.stdout.write(
                f"That is doubted: the clock went from {doubt.before:%d %B %Y} to {doubt.after:%d %B %Y} "
                f"at once. Nothing is deleted until {doubt.believed_on:%d %B %Y} or retention --confirm."
            )
        for band in Band.objects.order_by("pk"):
            due = ending.over(band=band, policy=policy_of(band), at=at).count()
            a_day = ending.most_in_a_day(band=band, at=at)
            self.stdout.write(f"{band}: {due} over their time, at most {a_day} deleted in a day.")
