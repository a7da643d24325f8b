"""``manage.py make_railway``: an invented railway of any size, imported into the database."""

import tempfile
from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from fixtures import seed
from fixtures.make import DEMO_TURNOUTS, DEMO_WEEK, make
from fixtures.planted import Planted
from turnouts.models import Turnout


class Command(BaseCommand):
    help = "Makes an invented railway and imports it into an empty database."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--turnouts", type=int, default=DEMO_TURNOUTS)
        parser.add_argument("--seed", type=int, default=1)
        parser.add_argument(
            "--detailed-every", type=int, default=12, help="months between visits with gauges"
        )
        parser.add_argument(
            "--bad-batch",
            nargs=2,
            type=date.fromisoformat,
            metavar=("FROM", "TO"),
            help="frogs made between two days fail several times as often",
        )
        parser.add_argument(
            "--tight-guards", type=int, default=0, help="turnouts whose guards make points chip"
        )
        parser.add_argument(
            "--hot-welds", type=float, default=0.0, help="share of welds done hot, that spall soon"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.PRODUCTION:
            raise CommandError("An invented railway has no place among real records.")
        if Turnout.objects.exists():
            raise CommandError("This database has a railway already; `make clean` takes it away.")
        with tempfile.TemporaryDirectory() as folder:
            try:
                self._bring_in(Path(folder), options)
            except (seed.SeedError, ValueError) as fault:
                raise CommandError(str(fault)) from fault

    def _bring_in(self, folder: Path, asked: dict[str, Any]) -> None:
        planted = Planted(
            batch=tuple(asked["bad_batch"]) if asked["bad_batch"] else None,
            tight_guards=asked["tight_guards"],
            hot_share=asked["hot_welds"],
        )
        rows = make(
            folder,
            turnouts=asked["turnouts"],
            seed=asked["seed"],
            detailed_every_months=asked["detailed_every"],
            planted=planted,
        )
        for sheet, count in rows.items():
            seed.say(f"  {sheet:<20}{count:>9}")
        for placed in planted.placed:
            seed.say(f"  planted {placed.what:<12}{placed.turnout}  {placed.which}")
        seeding = seed.begin(DEMO_WEEK)
        for part in sorted(folder.iterdir()):
            seed.say(f"Importing {part.name}")
            seed.bring_in_here(seeding, part)
        seed.give_passwords()
