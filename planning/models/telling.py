"""How crews are told: what was mailed to whom, and the calendar each crew's phones read."""

import secrets
import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from planning.models.plans import WeekPlan
from planning.models.resources import Crew
from repairs.models import RepairJob
from turnouts.models.audit import audited
from turnouts.models.letters import Letter


def new_key() -> str:
    """43 letters, digits and signs nobody can guess (256 bits)."""
    return secrets.token_urlsafe(32)


class CrewNotice(Letter):
    """One e-mail to one person about one published plan; written with the plan, sent after it."""

    plan = models.ForeignKey(WeekPlan, on_delete=models.PROTECT, related_name="notices")
    crew = models.ForeignKey(Crew, on_delete=models.PROTECT, related_name="notices")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="crew_notices"
    )
    territory_path = "plan__territory"

    class Meta:
        ordering = ["plan", "crew", "person"]
        constraints = [
            models.UniqueConstraint(
                fields=["plan", "crew", "person"], name="one_notice_a_person_a_plan"
            )
        ]

    def __str__(self) -> str:
        return f"{self.subject} to {self.person}"


@audited(exclude=["key"])
class CrewCalendar(models.Model):
    """The address of a crew's calendar. Whoever knows ``key`` may read it; a new key ends that."""

    crew = models.OneToOneField(Crew, on_delete=models.CASCADE, related_name="calendar")
    key = models.CharField(max_length=64, unique=True, default=new_key)
    renewed_at = models.DateTimeField()

    territory_path = "crew__depot__territory"

    class Meta:
        ordering = ["crew"]

    def __str__(self) -> str:
        return f"Calendar of {self.crew}"


class CalendarEntry(models.Model):
    """A job in a crew's calendar. It keeps its ``uid`` for good; each change counts ``sequence``
    up, and a job that the crew no longer does stays as a cancelled entry (RFC 5545, 3.8.7.4)."""

    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="entries")
    job = models.ForeignKey(RepairJob, on_delete=models.PROTECT, related_name="entries")
    uid = models.UUIDField(unique=True, default=uuid.uuid4)
    sequence = models.PositiveIntegerField(default=0)
    cancelled = models.BooleanField(default=False)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    summary = models.CharField(max_length=200)
    place = models.CharField(max_length=200)
    words = models.TextField()
    made_at = models.DateTimeField()
    changed_at = models.DateTimeField()

    territory_path = "crew__depot__territory"

    class Meta:
        ordering = ["crew", "starts_at"]
        verbose_name_plural = "calendar entries"
        constraints = [
            models.UniqueConstraint(fields=["crew", "job"], name="one_entry_a_job_a_crew"),
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="calendar_entry_runs_forward"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.summary} for {self.crew}"
