"""``manage.py demo``: the invented railway, imported, judged, estimated and planned."""

from decimal import Decimal
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db.models import Count

from fixtures import seed
from fixtures.make import DEMO_WEEK
from fixtures.past_work import work_done
from planning.reading import read_plan
from planning.templatetags.plans import chance, share
from repairs.models import Decision, RepairJob
from turnouts.analysis.showing import US, show
from turnouts.analysis.terms import Disposition, Role
from turnouts.analysis.units import Dimension
from turnouts.models import Defect, RoleGrant, Turnout


class Command(BaseCommand):
    help = "Seeds the demo railway through the queue and prints a summary; twice does it once."

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.PRODUCTION:
            raise CommandError("The demo railway has open passwords; it is not for production.")
        try:
            self._seed()
        except seed.SeedError as fault:
            raise CommandError(str(fault)) from fault

    def _seed(self) -> None:
        seeding = seed.begin(DEMO_WEEK)
        for folder in sorted(seed.RAILWAY.iterdir()):
            seed.say(f"Importing {folder.name}")
            seed.bring_in(seeding, folder)
        seed.give_passwords()
        seed.say("Repairs of the last weeks")
        work_done(seeding)
        seed.say("Judging the open defects")
        seed.triage(seeding)
        seed.say("Estimating the repairs")
        jobs = seed.make_jobs(seeding)
        seed.say("Planning the week")
        plans = seed.plan_and_publish(seeding)
        seed.say("Looking ahead, and like components compared")
        seed.look_ahead(seeding)
        self._summary([read_plan(plan) for plan in plans], jobs.result["refused"])

    def _summary(self, plans: list[Any], refused: list[str]) -> None:
        seed.say(f"\nThe invented railway, week of {DEMO_WEEK:%d %B %Y}")
        self._line("turnouts", Turnout.objects.count())
        self._line("defects", Defect.objects.count())
        self._line("  repaired and signed in the last weeks", self._signed())
        self._line("  still open", Defect.objects.still_open().count())
        for word, count in self._dispositions():
            self._line(f"    {Disposition(word).label.lower()}", count)
        for plan in plans:
            self._plan(plan)
        for sentence in refused:
            seed.say(f"  no estimate: {sentence}")
        self._people()

    def _signed(self) -> int:
        """Defects whose repair stands in a signed record."""
        signed = RepairJob.objects.filter(sheets__records__isnull=False)
        return Defect.objects.filter(treated_by__job__in=signed).distinct().count()

    def _plan(self, read: Any) -> None:
        seed.say(f"  {read.plan.territory.name}, plan {read.plan.number}")
        self._line("  jobs placed", len(read.placed))
        self._line("  left out", len(read.left_out))
        self._line("  crew hours", f"{read.crew_hours:.1f}")
        pounds = show(Decimal(str(read.filler_kg)), Dimension.MASS, US)
        self._line("  filler metal", f"{read.filler_kg:.1f} kg ({pounds})")
        self._line("  least chance of handing back in time", chance(read.least_chance or 0.0))
        self._line("  chance that all are", chance(read.all_in_time))
        gap = read.plan.detail["gap"]
        self._line("  from best at most", share(gap) if gap is not None else "not proved")

    def _dispositions(self) -> list[tuple[str, int]]:
        rows = Decision.objects.current().filter(defect__in=Defect.objects.still_open())
        return list(rows.values_list("disposition").annotate(n=Count("pk")).order_by("disposition"))

    def _line(self, words: str, value: object) -> None:
        seed.say(f"  {words:<42}{value!s:>12}")

    def _people(self) -> None:
        """One name a role to log in with; every engineer, for one answers what another proposes."""
        seed.say(f"\n  Log in with the password {seed.DEMO_PASSWORD} as")
        seen: set[str] = set()
        for grant in RoleGrant.objects.select_related("person", "territory").order_by("pk"):
            name = grant.person.username
            apart = name if grant.role == Role.ENGINEER else grant.role
            if apart not in seen and name != "seeding":
                seen.add(apart)
                where = grant.territory.name if grant.territory else "all territories"
                self._line(f"  {grant.role}, {where}", name)
