"""A one-time link to set a password, for a director whom no colleague can help:

manage.py password_link d.park@school.example https://band.school.example
"""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from bandroom.people.models import Membership, Role
from bandroom.people.password_links import password_link
from bandroom.people.signing_in import normal_name


class Command(BaseCommand):
    help = "Print a link with which a director or substitute sets a new password, once."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email")
        parser.add_argument("address", help="of this server, such as https://band.school.example")

    def handle(self, *_args: Any, **options: Any) -> None:
        membership = (
            Membership.objects.filter(user__sign_in_name=normal_name(options["email"]), ended_at__isnull=True)
            .exclude(role=Role.STUDENT)
            .select_related("user")
            .first()
        )
        if membership is None:
            raise CommandError("No director or substitute signs in with this address.")
        self.stdout.write(options["address"].rstrip("/") + password_link(membership.user))
