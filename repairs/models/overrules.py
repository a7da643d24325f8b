"""An engineer's word against the machine's: kept beside its answer, never in its place."""

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Q

from repairs.models.decisions import Decision
from turnouts.analysis.terms import Disposition
from turnouts.models.audit import audited
from turnouts.models.choices import choices, only
from turnouts.models.turnouts import SPEED


@audited()
class Overrule(models.Model):
    """What holds of a decision by a person's word. Written once; a later one takes its place.

    ``milder`` is set where trains may do more than the rules said or an earlier overruling did, or
    a restriction may stay longer; then ``authority`` names under what the person lets it.
    ``carried_from`` is the overruling of an earlier decision that rested on the same facts.
    """

    TRAFFIC = [
        ("class_speed", "Class speed"),
        ("restricted", "Restricted speed"),
        ("stop", "Stop"),
    ]
    AUTHORITY = [
        ("213.9(b)", "213.9(b): I let trains run below class 1, as designated under 213.7(a)"),
        ("213.7", "213.7: I inspected it and find the limits met, as designated there"),
        ("local", "The local rule, outside 49 CFR 213: named in the reason"),
    ]

    decision = models.ForeignKey(Decision, on_delete=models.PROTECT, related_name="overrules")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=16)
    at = models.DateTimeField()
    traffic = models.CharField(max_length=12, choices=TRAFFIC)
    speed_kmh = models.DecimalField(null=True, blank=True, **SPEED)
    disposition = models.CharField(max_length=16, choices=choices(Disposition))
    due_on = models.DateField()
    reason = models.CharField(max_length=500)
    milder = models.BooleanField()
    authority = models.CharField(max_length=8, choices=AUTHORITY, blank=True)
    carried_from = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    territory_path = "decision__defect__turnout__track__line__territory"

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            only("disposition", Disposition, "overrule_disposition_is_known"),
            models.CheckConstraint(condition=~Q(reason=""), name="overrule_has_a_reason"),
            models.CheckConstraint(
                condition=Q(milder=False) | ~Q(authority=""), name="milder_names_its_authority"
            ),
            models.CheckConstraint(
                condition=Q(traffic="restricted", speed_kmh__gt=0)
                | Q(~Q(traffic="restricted"), speed_kmh__isnull=True),
                name="overrule_speed_only_for_a_restriction",
            ),
        ]
        triggers = [
            pgtrigger.Protect(name="overrules_stay", operation=pgtrigger.Delete | pgtrigger.Update)
        ]

    def __str__(self) -> str:
        return f"{self.decision} overruled by {self.by}"
