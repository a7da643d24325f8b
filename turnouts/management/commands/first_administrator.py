"""``manage.py first_administrator NAME``: the person who then grants everybody else their roles."""

import getpass
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from turnouts.services.errors import Refused
from turnouts.services.people import add_first_administrator


class Command(BaseCommand):
    help = "Makes the first administrator; refused when there is one. Reads the password typed."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the name to log in with")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            person = add_first_administrator(username=options["name"], password=self._password())
        except Refused as refusal:
            raise CommandError(str(refusal)) from None
        self.stdout.write(f"{person.username} is administrator of all territories.")

    def _password(self) -> str:
        """Typed unseen at a terminal, or the first line of what is piped in."""
        if sys.stdin.isatty():
            return getpass.getpass("Password: ")
        return sys.stdin.readline().rstrip("\n")
