"""A week's plan: which job, which crew, which track time; and what was left out and why."""

from django.conf import settings
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import RangeOperators
from django.db import models
from django.db.models import F, Q

from planning.models.resources import Crew, TimeRange, Truck
from planning.models.windows import WorkWindow
from repairs.models import Estimate, JobSheet, RepairJob
from turnouts.models import LongRun, Territory, Turnout
from turnouts.models.audit import audited


@audited()
class WeekPlan(models.Model):
    """One plan of one territory's week. Publishing a later one supersedes it; all are kept.

    A hand edit is a plan of its own: ``based_on`` names the plan it changed, ``change`` says how.
    """

    STATES = [("draft", "Draft"), ("published", "Published"), ("superseded", "Superseded")]
    ORIGINS = [("planned", "Planned"), ("edited", "Edited by hand")]

    territory = models.ForeignKey(Territory, on_delete=models.PROTECT, related_name="plans")
    week = models.DateField(help_text="The Monday it begins on.")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=12, choices=STATES, default="draft")
    chance = models.FloatField()
    value = models.FloatField()
    bound = models.FloatField(null=True, blank=True)
    detail = models.JSONField(default=dict)
    load_out = models.JSONField(default=list, help_text="What each truck loads, once published.")
    origin = models.CharField(max_length=8, choices=ORIGINS, default="planned")
    based_on = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="followed_by"
    )
    change = models.CharField(max_length=300, blank=True)
    run = models.ForeignKey(
        LongRun, on_delete=models.PROTECT, null=True, blank=True, related_name="plans"
    )
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    version = models.PositiveIntegerField(default=1)

    territory_path = "territory"

    class Meta:
        ordering = ["-week", "territory", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["territory", "week", "number"], name="one_plan_a_number"
            ),
            models.UniqueConstraint(
                fields=["territory", "week"],
                condition=Q(state="published"),
                name="one_published_plan_a_week",
            ),
            models.CheckConstraint(
                condition=Q(week__iso_week_day=1), name="a_week_begins_on_a_monday"
            ),
            models.CheckConstraint(
                condition=Q(origin="planned", run__isnull=False)
                | Q(origin="edited", run__isnull=True, based_on__isnull=False),
                name="a_plan_was_planned_or_edited",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.territory}, week of {self.week:%Y-%m-%d}, plan {self.number}"


def not_twice(name: str, who: str, *, live: bool = False) -> ExclusionConstraint:
    """One ``who`` in one place at a time: within a plan, or among all that are published."""
    within = [] if live else [("plan", RangeOperators.EQUAL)]
    busy = (
        TimeRange("leaves_at", "ends_at") if who != "turnout" else TimeRange("starts_at", "ends_at")
    )
    return ExclusionConstraint(
        name=name,
        expressions=[*within, (who, RangeOperators.EQUAL), (busy, RangeOperators.OVERLAPS)],
        condition=Q(live=True) if live else None,
    )


@audited()
class PlannedJob(models.Model):
    """A job placed in track time. ``live`` while its plan is the published one.

    ``ends_at`` is the expected end; ``chance`` is that of handing the track back before the
    window ends. A ``locked`` job stays where it is when the week is planned again.
    """

    plan = models.ForeignKey(WeekPlan, on_delete=models.PROTECT, related_name="placed")
    job = models.ForeignKey(RepairJob, on_delete=models.PROTECT, related_name="placed")
    estimate = models.ForeignKey(Estimate, on_delete=models.PROTECT, related_name="+")
    turnout = models.ForeignKey(Turnout, on_delete=models.PROTECT, related_name="+")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="placed")
    truck = models.ForeignKey(Truck, on_delete=models.PROTECT, null=True, related_name="placed")
    window = models.ForeignKey(WorkWindow, on_delete=models.PROTECT, related_name="placed")
    leaves_at = models.DateTimeField()
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    chance = models.FloatField()
    sheet = models.OneToOneField(
        JobSheet, on_delete=models.PROTECT, null=True, blank=True, related_name="placed"
    )
    live = models.BooleanField(default=False)
    locked = models.BooleanField(default=False)

    territory_path = "plan__territory"

    class Meta:
        ordering = ["plan", "starts_at", "crew"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "job"], name="a_job_once_a_plan"),
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")) & Q(starts_at__gte=F("leaves_at")),
                name="placed_job_runs_forward",
            ),
            not_twice("crew_not_twice_in_a_plan", "crew"),
            not_twice("truck_not_twice_in_a_plan", "truck"),
            not_twice("turnout_not_twice_in_a_plan", "turnout"),
            not_twice("crew_not_twice_live", "crew", live=True),
            not_twice("truck_not_twice_live", "truck", live=True),
            not_twice("turnout_not_twice_live", "turnout", live=True),
        ]

    def __str__(self) -> str:
        return f"{self.job} with {self.crew}"

    @property
    def spare_min(self) -> int:
        """Minutes from the planned end to the hand-back of its track time."""
        return int((self.window.ends_at - self.ends_at).total_seconds() // 60)


class LeftOut(models.Model):
    """A job that found no place, with the reason and the single change that would let it in."""

    plan = models.ForeignKey(WeekPlan, on_delete=models.PROTECT, related_name="left_out")
    job = models.ForeignKey(RepairJob, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=500)
    change = models.CharField(max_length=300, blank=True)

    territory_path = "plan__territory"

    class Meta:
        ordering = ["plan", "job"]
        verbose_name_plural = "left out"
        constraints = [
            models.UniqueConstraint(fields=["plan", "job"], name="a_job_left_out_once_a_plan")
        ]

    def __str__(self) -> str:
        return f"{self.job}: {self.reason}"
