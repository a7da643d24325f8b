"""The railway's own rules: what one engineer proposes and another approves or rejects."""

from django.db import models
from django.db.models import F, Q

from repairs.models.answered import (
    ANSWER,
    Answered,
    answered_from_a_day,
    answered_once,
    by_a_second_person,
)
from repairs.triage.owner_figures import Figure
from turnouts.models import Territory
from turnouts.models.audit import audited
from turnouts.models.choices import choices, only


@audited()
class TerritoryRules(models.Model):
    """One rule set that a territory stands under; of several the stricter stands."""

    territory = models.ForeignKey(Territory, on_delete=models.CASCADE, related_name="rule_sets")
    rule_set = models.CharField(max_length=40)

    territory_path = "territory"

    class Meta:
        ordering = ["territory", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["territory", "rule_set"], name="a_rule_set_once_a_territory"
            )
        ]

    def __str__(self) -> str:
        return f"{self.territory}: {self.rule_set}"


@audited()
class OwnerRule(Answered):
    """One figure of one row as the railway wants it. No territory means all of them.

    Written once except for the answer, and the answer is given once. ``value`` is in the unit of
    the figure: mm, mph or a whole number. ``typed`` is what the engineer typed of a speed that is
    no whole mph. ``stood`` says what held when it was proposed.
    ``begins_on`` is the day from which it is in force, set when it is approved: never before.
    """

    STATES = [("proposed", "Proposed"), ("approved", "Approved"), ("rejected", "Rejected")]

    rule = models.CharField(max_length=80)
    figure = models.CharField(max_length=24, choices=choices(Figure))
    track_class = models.PositiveSmallIntegerField(null=True, blank=True)
    value = models.DecimalField(max_digits=14, decimal_places=7)
    typed = models.CharField(max_length=24, blank=True)
    stood = models.CharField(max_length=300)
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)
    territory = models.ForeignKey(
        Territory, on_delete=models.PROTECT, null=True, blank=True, related_name="owner_rules"
    )
    state = models.CharField(max_length=8, choices=STATES, default="proposed")
    begins_on = models.DateField(null=True, blank=True)

    territory_path = "territory"

    class Meta(Answered.Meta):
        constraints = [
            only("figure", Figure, "owner_rule_figure_is_known"),
            models.CheckConstraint(
                condition=by_a_second_person(),
                name="owner_rule_is_answered_by_a_second_person",
            ),
            models.CheckConstraint(
                condition=answered_from_a_day(),
                name="owner_rule_answer_is_whole",
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True)
                | (
                    Q(ends_on__gt=F("starts_on"))
                    & (Q(begins_on__isnull=True) | Q(ends_on__gt=F("begins_on")))
                ),
                name="owner_rule_ends_after_it_begins",
            ),
            models.CheckConstraint(condition=Q(value__gt=0), name="owner_rule_value_above_zero"),
            models.CheckConstraint(condition=~Q(reason=""), name="owner_rule_has_a_reason"),
        ]
        triggers = answered_once("owner_rules", "owner_rule_answers", [*ANSWER, "begins_on"])

    def __str__(self) -> str:
        return f"{self.rule}, {self.get_figure_display().lower()}"
