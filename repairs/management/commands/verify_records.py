"""Look whether any entry or signed record was changed after it was written."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from repairs.services.field_records import verify_all


class Command(BaseCommand):
    help = "Checks the chain over the entries of each job sheet and over all signed records."

    def handle(self, *args: Any, **options: Any) -> None:
        sheets, records, broken = verify_all()
        if broken:
            raise CommandError(broken)
        self.stdout.write(f"{sheets} sheets and {records} records hold together.")
