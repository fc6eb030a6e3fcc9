"""Makes the invented school, once, and tells whom to sign in as."""

from argparse import ArgumentParser
from typing import Any

from django.core.management import BaseCommand, CommandError
from django.utils.timezone import now

from bandroom.demo import school
from bandroom.demo.people import make_people, sign_in_name
from bandroom.people.models import Band


class Command(BaseCommand):
    help = "Make the demo school (Larkmere Middle School, all invented) in an empty database."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--sign-in-names", action="store_true", help="only print whom to sign in as")

    def handle(self, *args: Any, sign_in_names: bool, **options: Any) -> None:
        if not sign_in_names:
            self.make()
        elif Band.objects.filter(school=school.SCHOOL).exists():
            self.print_names()

    def make(self) -> None:
        # The engines load music21 and numpy, which nothing else at start-up needs.
        from bandroom.demo.work import make_work  # noqa: PLC0415

        if Band.objects.exists():
            raise CommandError("There is a band here already; the demo school needs an empty database.")
        at = now()
        people = make_people(at=at)
        make_work(people=people, at=at)
        self.stdout.write(f"Made {school.SCHOOL} with {len(people.seats)} students.")

    def print_names(self) -> None:
        self.stdout.write("\nThe demo school is invented, its recordings are synthesised. Sign in as")
        for first, last, email in (school.DIRECTOR, school.SUBSTITUTE):
            role = "director" if email == school.DIRECTOR[2] else "substitute"
            self.stdout.write(f"  {role:<11} {email:<34} {school.STAFF_PASSWORD}   ({first} {last})")
        for name in school.TRY_AS:
            self.stdout.write(
                f"  {'student':<11} {sign_in_name(name):<34} {school.STUDENT_PASSPHRASE}     ({name})"
            )
