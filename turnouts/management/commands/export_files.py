"""Write the records a person may see as a workbook, or as a ZIP of CSV files."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from turnouts.access import Forbidden
from turnouts.models import Person
from turnouts.services.errors import Refused
from turnouts.services.exports import OWN_UNITS, export, units_of


class Command(BaseCommand):
    help = "Export sheets that import back to the same records."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("path", type=Path, help="the file to write: .xlsx or .zip")
        parser.add_argument("--by", required=True, help="username of the person who exports")
        parser.add_argument("--sheets", nargs="*", default=(), help="only these sheets")
        parser.add_argument("--own-units", action="store_true", help="in the person's own units")

    def handle(self, *args: Any, **options: Any) -> None:
        person = Person.objects.filter(username=options["by"]).first()
        if person is None:
            raise CommandError(f"There is no person {options['by']}.")
        path: Path = options["path"]
        if path.suffix not in (".xlsx", ".zip"):
            raise CommandError(f"{path} must end in .xlsx or .zip.")
        try:
            content = export(
                by=person,
                names=options["sheets"],
                form="xlsx" if path.suffix == ".xlsx" else "zip",
                units=units_of(person) if options["own_units"] else OWN_UNITS,
            )
        except (Refused, Forbidden) as refusal:
            raise CommandError(str(refusal)) from None
        path.write_bytes(content)
        self.stdout.write(f"{path}: {len(content):,} bytes")
