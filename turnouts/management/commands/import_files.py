"""Read CSV files, a folder of them, or a workbook into the records."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from turnouts.access import Forbidden
from turnouts.models import Person
from turnouts.services.errors import Refused
from turnouts.services.imports import import_now
from turnouts.services.sheets.report import ImportReport

_FAULTS_SHOWN = 50


class Command(BaseCommand):
    help = "Import sheets: all of them or, with any fault, nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("paths", nargs="+", type=Path, help="files, or folders of CSV files")
        parser.add_argument("--by", required=True, help="username of the person who imports")
        parser.add_argument("--dry-run", action="store_true", help="only say what would change")

    def handle(self, *args: Any, **options: Any) -> None:
        person = Person.objects.filter(username=options["by"]).first()
        if person is None:
            raise CommandError(f"There is no person {options['by']}.")
        try:
            report = import_now(
                by=person,
                files=_files(options["paths"]),
                dry_run=options["dry_run"],
                progress=self._progress,
            )
        except (Refused, Forbidden) as refusal:
            raise CommandError(str(refusal)) from None
        self._show(report)

    def _progress(self, done: int, total: int, words: str) -> None:
        if self.stdout.isatty():
            self.stdout.write(f"\r{words}: {done:,} of {total:,}   ", ending="")

    def _show(self, report: ImportReport) -> None:
        for sheet in report.sheets:
            self.stdout.write(
                f"{sheet.name}: {sheet.create:,} new, {sheet.update:,} changed, "
                f"{sheet.unchanged:,} unchanged, {sheet.bad:,} not taken"
            )
        for note in report.notes:
            self.stdout.write(note)
        for fault in report.faults[:_FAULTS_SHOWN]:
            self.stderr.write(
                f"{fault.sheet}, row {fault.row}, column {fault.column or '-'}: {fault.sentence}"
            )
        if report.fault_count:
            raise CommandError(f"{report.fault_count:,} faults; nothing was written.")
        self.stdout.write("Everything was read in." if report.applied else "Nothing was written.")


def _files(paths: list[Path]) -> list[tuple[str, bytes]]:
    found: list[Path] = []
    for path in paths:
        if not path.exists():
            raise CommandError(f"There is no {path}.")
        found += sorted(path.glob("*.csv")) if path.is_dir() else [path]
    return [(path.name, path.read_bytes()) for path in found]
