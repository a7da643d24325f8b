"""A repair job: the defects one crew treats on one component in one visit, and its estimates."""

from typing import Self

from django.db import models
from django.db.models import F, Q

from repairs.models.decisions import Decision
from repairs.models.own_procedures import OwnerProcedure
from turnouts.analysis.terms import Disposition
from turnouts.models import Component, Defect, Turnout
from turnouts.models.audit import audited
from turnouts.models.choices import choices, only


class RepairJobQuerySet(models.QuerySet["RepairJob"]):
    def with_place(self) -> Self:
        return self.select_related("turnout__track__line__territory", "component", "part_of")

    def whole(self) -> Self:
        """Without the parts that jobs are done in: each job once."""
        return self.filter(part_of__isnull=True)


@audited()
class RepairJob(models.Model):
    STATES = [
        ("estimated", "Estimated"),
        ("issued", "Job sheet issued"),
        ("in_work", "In work"),
        ("done", "Done"),
        ("broken_off", "Broken off"),
        ("cancelled", "Cancelled"),
    ]

    reference = models.CharField(max_length=40, unique=True)
    turnout = models.ForeignKey(Turnout, on_delete=models.PROTECT, related_name="jobs")
    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="jobs")
    disposition = models.CharField(max_length=16, choices=choices(Disposition))
    procedure = models.CharField(max_length=40)
    state = models.CharField(max_length=12, choices=STATES, default="estimated")
    due_on = models.DateField(null=True, blank=True)
    value_per_day = models.DecimalField(max_digits=10, decimal_places=2)
    value_reason = models.CharField(max_length=300)
    # The job that was broken off and whose rest this one does.
    follows = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="rest"
    )
    # The job that this one does a share of, in a window of its own, and which share of how many.
    part_of = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="parts"
    )
    part_number = models.PositiveSmallIntegerField(null=True, blank=True)
    part_count = models.PositiveSmallIntegerField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = RepairJobQuerySet.as_manager()
    territory_path = "turnout__track__line__territory"

    class Meta:
        ordering = ["due_on", "reference"]
        constraints = [
            only("disposition", Disposition, "job_disposition_is_known"),
            models.CheckConstraint(
                condition=Q(value_per_day__gte=0), name="job_value_not_negative"
            ),
            models.UniqueConstraint(
                fields=["component", "disposition"],
                condition=Q(state__in=["estimated", "issued", "in_work"], part_of__isnull=True),
                name="one_open_job_of_a_kind_a_component",
            ),
            models.CheckConstraint(
                condition=Q(part_of__isnull=True, part_number__isnull=True, part_count__isnull=True)
                | Q(part_of__isnull=False, part_number__gte=1, part_count__gte=F("part_number")),
                name="a_part_has_its_number",
            ),
        ]

    def __str__(self) -> str:
        return self.reference

    @property
    def part_words(self) -> str:
        """``part 1 of 2``; nothing for a whole job."""
        return "" if self.part_of_id is None else f"part {self.part_number} of {self.part_count}"


@audited()
class JobDefect(models.Model):
    """A defect that a job treats, with the decision that sent it there."""

    job = models.ForeignKey(RepairJob, on_delete=models.CASCADE, related_name="treats")
    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="treated_by")
    decision = models.ForeignKey(Decision, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["job", "defect"]
        constraints = [
            models.UniqueConstraint(fields=["job", "defect"], name="a_defect_once_a_job")
        ]

    def __str__(self) -> str:
        return f"{self.job} treats {self.defect}"


class Estimate(models.Model):
    """What a job takes: minutes as a distribution, metal and material. Kept when a new one is made.

    Made by the procedure's edition of ``procedure_since``: a shipped one, or ``own_edition``.
    ``lance_w_per_m2_k`` is the cooling under the air lance that was taken over from signed records
    and reckoned with; empty where the row stood or no lance is used.
    ``shared`` is the share of the variance that all jobs of one crew on one day have in common.
    """

    job = models.ForeignKey(RepairJob, on_delete=models.CASCADE, related_name="estimates")
    made_at = models.DateTimeField()
    procedure = models.CharField(max_length=40)
    procedure_since = models.DateField()
    own_edition = models.ForeignKey(
        OwnerProcedure, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    lance_w_per_m2_k = models.FloatField(null=True, blank=True)
    p50_min = models.FloatField()
    p80_min = models.FloatField()
    p95_min = models.FloatField()
    mean_min = models.FloatField()
    sd_min = models.FloatField()
    shared = models.FloatField()
    cavity_cm3 = models.FloatField()
    filler_kg = models.FloatField()
    detail = models.JSONField()
    current = models.BooleanField(default=True)

    territory_path = "job__turnout__track__line__territory"

    class Meta:
        ordering = ["-made_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["job"], condition=Q(current=True), name="one_current_estimate_a_job"
            ),
            models.CheckConstraint(
                condition=Q(p50_min__gt=0) & Q(filler_kg__gte=0), name="estimate_makes_sense"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job}: {self.p50_min:.0f} min"
