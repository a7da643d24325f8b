"""Under which rule sets a territory is to stand: one engineer proposes, another answers."""

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import F, Q

from turnouts.models import Territory
from turnouts.models.audit import audited


@audited()
class RuleSetChange(models.Model):
    """The ids of the shipped rule sets as they are to be, and as they ``stood`` when proposed.

    Written once except for the answer, and the answer is given once.
    """

    STATES = [("proposed", "Proposed"), ("approved", "Approved"), ("rejected", "Rejected")]

    territory = models.ForeignKey(
        Territory, on_delete=models.PROTECT, related_name="rule_set_changes"
    )
    names = models.JSONField()
    stood = models.JSONField()
    reason = models.CharField(max_length=300)
    proposed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    proposed_at = models.DateTimeField()
    state = models.CharField(max_length=8, choices=STATES, default="proposed")
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    answered_at = models.DateTimeField(null=True, blank=True)
    answer_note = models.CharField(max_length=300, blank=True)

    territory_path = "territory"

    class Meta:
        ordering = ["-proposed_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(answered_by__isnull=True) | ~Q(answered_by=F("proposed_by")),
                name="rule_sets_are_answered_by_a_second_person",
            ),
            models.CheckConstraint(
                condition=Q(state="proposed", answered_by__isnull=True, answered_at__isnull=True)
                | Q(
                    Q(state="approved") | Q(Q(state="rejected"), ~Q(answer_note="")),
                    answered_by__isnull=False,
                    answered_at__isnull=False,
                ),
                name="rule_sets_answer_is_whole",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="rule_sets_have_a_reason"),
            models.UniqueConstraint(
                fields=["territory"],
                condition=Q(state="proposed"),
                name="one_waiting_change_of_rule_sets_a_territory",
            ),
        ]
        triggers = [
            pgtrigger.Protect(name="rule_set_changes_stay", operation=pgtrigger.Delete),
            pgtrigger.ReadOnly(
                name="rule_set_changes_are_written_once",
                exclude=["state", "answered_by", "answered_at", "answer_note"],
            ),
            pgtrigger.Protect(
                name="rule_set_answers_stay",
                operation=pgtrigger.Update,
                condition=~pgtrigger.Q(old__state="proposed"),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.territory}: {', '.join(self.names)}"
