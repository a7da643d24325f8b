"""What was decided of a defect. A decision is written once; a later one takes its place."""

from typing import Self

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Q

from turnouts.analysis.terms import Disposition
from turnouts.models import Defect
from turnouts.models.audit import audited
from turnouts.models.choices import choices, only
from turnouts.models.turnouts import SPEED


class DecisionQuerySet(models.QuerySet["Decision"]):
    def current(self) -> Self:
        return self.filter(current=True)


@audited(exclude=["detail"])  # written once and never deleted, so a second copy would say nothing
class Decision(models.Model):
    """The answer of the rules for one defect on one day.

    ``detail`` keeps the rule ids, row dates and values it saw, so that it can be replayed.
    """

    TRAFFIC = [
        ("class_speed", "Class speed"),
        ("restricted", "Restricted speed"),
        ("stop", "Stop"),
        ("unknown", "Not known: keep the present restriction"),
    ]

    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="decisions")
    decided_at = models.DateTimeField()
    decided_on = models.DateField()
    rule_set = models.CharField(max_length=200)
    traffic = models.CharField(max_length=12, choices=TRAFFIC)
    speed_kmh = models.DecimalField(null=True, blank=True, **SPEED)
    disposition = models.CharField(max_length=16, choices=choices(Disposition))
    due_on = models.DateField(null=True, blank=True)
    due_reason = models.CharField(max_length=300)
    sentence = models.CharField(max_length=1000)
    detail = models.JSONField()
    current = models.BooleanField(default=True)

    objects = DecisionQuerySet.as_manager()
    territory_path = "defect__turnout__track__line__territory"

    class Meta:
        ordering = ["-decided_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["defect"], condition=Q(current=True), name="one_current_decision_a_defect"
            ),
            only("disposition", Disposition, "decision_disposition_is_known"),
        ]
        indexes = [models.Index(fields=["current", "disposition", "due_on"])]
        triggers = [
            pgtrigger.Protect(name="decisions_stay", operation=pgtrigger.Delete),
            pgtrigger.ReadOnly(name="decisions_are_written_once", exclude=["current"]),
        ]

    def __str__(self) -> str:
        return f"{self.defect}: {self.disposition}"


class Confirmation(models.Model):
    """A qualified person's word on a decision: the tool advises, this person decides and signs."""

    decision = models.OneToOneField(Decision, on_delete=models.PROTECT, related_name="confirmation")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=16)
    at = models.DateTimeField()
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        triggers = [
            pgtrigger.Protect(
                name="confirmations_stay", operation=pgtrigger.Delete | pgtrigger.Update
            )
        ]

    def __str__(self) -> str:
        return f"{self.decision} confirmed by {self.by}"
