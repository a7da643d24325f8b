"""The job sheet as it was issued, whole: a later change makes a new one."""

from decimal import Decimal

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import F, Q

from repairs.models.jobs import Estimate, RepairJob
from turnouts.analysis.whereabouts import Place
from turnouts.models.audit import audited


@audited()
class JobSheet(models.Model):
    """One crew, one job, one piece of track time. ``content`` is what page and paper both show."""

    number = models.CharField(max_length=40, unique=True)
    job = models.ForeignKey(RepairJob, on_delete=models.PROTECT, related_name="sheets")
    estimate = models.ForeignKey(Estimate, on_delete=models.PROTECT, related_name="+")
    crew = models.CharField(max_length=80)
    people = models.ManyToManyField(settings.AUTH_USER_MODEL, related_name="job_sheets")
    starts_at = models.DateTimeField()
    hand_back_at = models.DateTimeField()
    content = models.JSONField()
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    territory_path = "job__turnout__track__line__territory"

    class Meta:
        ordering = ["starts_at", "number"]
        constraints = [
            models.CheckConstraint(
                condition=Q(hand_back_at__gt=F("starts_at")), name="handed_back_after_start"
            ),
            models.UniqueConstraint(
                fields=["job"],
                condition=Q(withdrawn_at__isnull=True),
                name="one_standing_sheet_a_job",
            ),
        ]
        triggers = [
            pgtrigger.Protect(name="sheets_stay", operation=pgtrigger.Delete),
            pgtrigger.ReadOnly(name="sheets_are_written_once", exclude=["withdrawn_at"]),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def place(self) -> Place | None:
        """Where its turnout was known to be when it was issued; older sheets do not say."""
        where = self.content["where"]
        latitude, longitude = (where.get(axis) for axis in ("latitude", "longitude"))
        if latitude is None or longitude is None:
            return None
        return Place(Decimal(latitude), Decimal(longitude))
