"""What the night works out of the whole railway: repeat offenders and early warnings.

Both follow from other rows, so they are not audited.
"""

from django.db import models

from turnouts.analysis.terms import Quantity
from turnouts.models.choices import choices, only
from turnouts.models.components import Component
from turnouts.models.inspections import EXACT
from turnouts.models.turnouts import Turnout


class ComponentRank(models.Model):
    """A component in track against its like: defects seen and expected, and its rate with chances.

    ``relative`` is its rate as a multiple of the family's, ``low`` to ``high`` hold it with 90 %.
    The whole table is written anew every night.
    """

    component = models.OneToOneField(Component, on_delete=models.CASCADE, related_name="rank")
    turnout = models.ForeignKey(Turnout, on_delete=models.CASCADE, related_name="+")
    family = models.CharField(max_length=100)
    events = models.PositiveIntegerField()
    expected = models.FloatField()
    relative = models.FloatField()
    low = models.FloatField()
    high = models.FloatField()
    chance_worse = models.FloatField()
    chance_twice = models.FloatField()
    repeat_offender = models.BooleanField()
    made_on = models.DateField()

    territory_path = "turnout__track__line__territory"

    class Meta:
        ordering = ["-chance_worse", "-relative", "component"]
        indexes = [models.Index(fields=["-chance_worse", "-relative"])]

    def __str__(self) -> str:
        return f"{self.component}: {self.relative:.1f} times its like"


class EarlyWarning(models.Model):
    """A forecast that a limit is reached before the next look, as it was first made.

    It is never altered but for ``stands_on``, the last night that came to warn of the same; so the
    record of the forecasts can be held against what came. Lengths in mm. ``look_by`` is the clause
    that asks for the next look, empty where it is the usual gap of the readings.
    """

    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="warnings")
    turnout = models.ForeignKey(Turnout, on_delete=models.PROTECT, related_name="+")
    quantity = models.CharField(max_length=24, choices=choices(Quantity))
    route = models.CharField(max_length=10, blank=True)
    behind_point_mm = models.DecimalField(null=True, blank=True, **EXACT)
    clause = models.CharField(max_length=160)
    limit_mm = models.DecimalField(**EXACT)
    least = models.BooleanField()
    next_look_on = models.DateField()
    look_by = models.CharField(max_length=160, blank=True, default="")
    chance_now = models.FloatField()
    chance = models.FloatField()
    level_mm = models.FloatField()
    readings = models.PositiveIntegerField()
    last_inspection = models.CharField(max_length=40)
    made_on = models.DateField()
    stands_on = models.DateField()

    territory_path = "turnout__track__line__territory"

    class Meta:
        ordering = ["-chance", "next_look_on", "id"]
        indexes = [models.Index(fields=["stands_on", "-chance"])]
        constraints = [
            only("quantity", Quantity, "warning_quantity_is_known"),
            models.UniqueConstraint(
                fields=[
                    "component", "quantity", "route", "behind_point_mm", "clause", "limit_mm",
                    "last_inspection", "next_look_on",
                ],
                name="one_warning_of_a_thing_a_look",
                nulls_distinct=False,
            ),
            models.CheckConstraint(
                condition=models.Q(chance__gte=0, chance__lte=1)
                & models.Q(stands_on__gte=models.F("made_on")),
                name="warning_has_a_chance_and_its_days_in_order",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"{self.component} {self.quantity} before {self.next_look_on}"


class FamilyFigures(models.Model):
    """What the components of one kind, design and steel have in common, as a night worked it out.

    ``figures`` holds how they wear, how often defects come and what repairs last; it is written and
    read by ``turnouts.services.family_figures``. A component's page sets its own record beside it.
    """

    kind = models.CharField(max_length=16)
    design = models.CharField(max_length=24, blank=True)
    steel = models.CharField(max_length=16, blank=True)
    components = models.PositiveIntegerField()
    figures = models.JSONField()
    made_on = models.DateField()

    class Meta:
        ordering = ["kind", "design", "steel"]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "design", "steel"], name="one_row_of_figures_a_family"
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.design} {self.steel}, {self.made_on}"
