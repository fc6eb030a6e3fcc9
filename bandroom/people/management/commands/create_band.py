"""The first band on a new server, with its first director:

    manage.py create_band "Harrow Bend Band" --school "Harrow Bend Middle School" \\
        --time-zone America/Chicago --starts 2026-08-24 --ends 2027-06-11 \\
        --email d.park@school.example --first-name Ms. --last-name Park

asks for the director's password. With --link https://band.school.example it asks for none and prints a
one-time link with which the director sets it.
"""

import getpass
from datetime import date
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.validators import validate_email
from django.db import transaction

from bandroom.people.models import Role, User
from bandroom.people.password_links import password_link
from bandroom.people.services.bands import create_band
from bandroom.people.services.passwords import set_password
from bandroom.people.services.staff import invite_staff
from bandroom.people.signing_in import normal_name


class Command(BaseCommand):
    help = "Make a band and its first director."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="name of the band")
        parser.add_argument("--school", default="")
        parser.add_argument("--time-zone", required=True, help="such as America/Chicago")
        parser.add_argument(
            "--starts", required=True, type=date.fromisoformat, help="first day of the school year"
        )
        parser.add_argument(
            "--ends", required=True, type=date.fromisoformat, help="last day of the school year"
        )
        parser.add_argument("--email", required=True, help="what the director signs in with")
        parser.add_argument("--first-name", required=True)
        parser.add_argument("--last-name", default="")
        parser.add_argument(
            "--link", metavar="ADDRESS", help="print a link on this address instead of asking for a password"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        email = normal_name(options["email"])
        known = User.objects.filter(sign_in_name=email).first()
        try:
            validate_email(email)
            password = (
                "" if options["link"] or (known and known.has_usable_password()) else self._password(options)
            )
            with transaction.atomic():
                band = create_band(
                    name=options["name"],
                    school=options["school"],
                    time_zone=options["time_zone"],
                    starts=options["starts"],
                    ends=options["ends"],
                )
                invited = invite_staff(
                    band=band,
                    email=email,
                    first_name=options["first_name"],
                    last_name=options["last_name"],
                    role=Role.DIRECTOR,
                )
                if password:
                    set_password(user=invited.membership.user, new=password)
        except ValidationError as wrong:
            raise CommandError(" ".join(wrong.messages)) from None
        self.stdout.write(f"{band} is ready. {invited.membership.user} directs it and signs in as {email}.")
        if invited.needs_link and not password:
            link = options["link"].rstrip("/") + password_link(invited.membership.user)
            self.stdout.write(f"To set the password, once, for three days: {link}")

    def _password(self, options: dict[str, Any]) -> str:
        person = User(
            sign_in_name=options["email"], first_name=options["first_name"], last_name=options["last_name"]
        )
        password = getpass.getpass(f"Password for {person.sign_in_name}: ")
        if password != getpass.getpass("Once more: "):
            raise CommandError("The two are not the same: nothing was made.")
        validate_password(password, person)
        return password
