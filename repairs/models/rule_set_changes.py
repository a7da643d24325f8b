"""Under which rule sets a territory is to stand: one engineer proposes, another answers."""

from django.db import models
from django.db.models import Q

from repairs.models.answered import ANSWER, Answered, answered_once, by_a_second_person
from turnouts.models import Territory
from turnouts.models.audit import audited


@audited()
class RuleSetChange(Answered):
    """The ids of the shipped rule sets as they are to be, and as they ``stood`` when proposed.

    Written once except for the answer, and the answer is given once.
    """

    STATES = [("proposed", "Proposed"), ("approved", "Approved"), ("rejected", "Rejected")]

    territory = models.ForeignKey(
        Territory, on_delete=models.PROTECT, related_name="rule_set_changes"
    )
    names = models.JSONField()
    stood = models.JSONField()
    state = models.CharField(max_length=8, choices=STATES, default="proposed")

    territory_path = "territory"

    class Meta(Answered.Meta):
        constraints = [
            models.CheckConstraint(
                condition=by_a_second_person(),
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
        triggers = answered_once("rule_set_changes", "rule_set_answers", ANSWER)

    def __str__(self) -> str:
        return f"{self.territory}: {', '.join(self.names)}"
