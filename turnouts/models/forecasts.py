"""What was foreseen of each worn length, and what came: the record the method answers for."""

from django.db import models

from turnouts.analysis.terms import Quantity
from turnouts.models.choices import choices, only
from turnouts.models.components import Component
from turnouts.models.inspections import EXACT
from turnouts.models.turnouts import Turnout


class WearForecast(models.Model):
    """The line that a night saw in the readings of one length, kept until the next reading comes.

    One for each last reading, as first made; ``made_on`` is the day it was made for, ``kept_on``
    the day it was worked out: later than ``made_on`` where it was reckoned afterwards from what was
    known by then. Lengths in mm, tonnage in MGT; ``limit_mm`` the strictest limit there.

    When the next reading comes the row is settled: ``met`` with what the line had said of it, or
    ``reset`` where a repair or a new place came between. Follows from other rows, so not audited.
    """

    STATES = [("open", "Open"), ("met", "Met by a reading"), ("reset", "Started again before")]

    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="forecasts")
    turnout = models.ForeignKey(Turnout, on_delete=models.PROTECT, related_name="+")
    quantity = models.CharField(max_length=24, choices=choices(Quantity))
    route = models.CharField(max_length=10, blank=True)
    behind_point_mm = models.DecimalField(null=True, blank=True, **EXACT)
    last_inspection = models.CharField(max_length=40)
    made_on = models.DateField()
    kept_on = models.DateField()
    began_mgt = models.FloatField()
    level = models.FloatField()
    rate = models.FloatField()
    covariance = models.JSONField()
    sd = models.FloatField()
    degrees = models.FloatField()
    readings = models.PositiveIntegerField()
    limit_mm = models.DecimalField(**EXACT)
    least = models.BooleanField()
    clause = models.CharField(max_length=160)
    state = models.CharField(max_length=5, choices=STATES, default="open")
    came_inspection = models.CharField(max_length=40, blank=True)
    came_on = models.DateField(null=True, blank=True)
    came_mgt = models.FloatField(null=True, blank=True)
    came_mm = models.DecimalField(null=True, blank=True, **EXACT)
    low_mm = models.FloatField(null=True, blank=True)
    high_mm = models.FloatField(null=True, blank=True)
    chance = models.FloatField(null=True, blank=True)
    past = models.BooleanField(null=True, blank=True)

    territory_path = "turnout__track__line__territory"

    class Meta:
        ordering = ["-came_on", "-made_on", "-pk"]
        indexes = [models.Index(fields=["state", "-came_on"])]
        constraints = [
            only("quantity", Quantity, "forecast_quantity_is_known"),
            models.UniqueConstraint(
                fields=["component", "quantity", "route", "behind_point_mm", "last_inspection"],
                name="one_forecast_after_a_reading",
                nulls_distinct=False,
            ),
            models.CheckConstraint(
                condition=~models.Q(state="met")
                | models.Q(came_mm__isnull=False, past__isnull=False),
                name="a_forecast_met_has_its_reading",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.component} {self.quantity}, {self.made_on}"

    @property
    def held(self) -> bool:
        """Whether the reading came inside the interval."""
        if self.low_mm is None or self.high_mm is None or self.came_mm is None:
            return False
        return self.low_mm <= float(self.came_mm) <= self.high_mm


class ForecastRecord(models.Model):
    """How the forecasts of one quantity did, or of all (blank), as of the last night.

    Counted over the whole railway, because it is a method that is judged and no territory.
    """

    quantity = models.CharField(max_length=24, choices=choices(Quantity), blank=True, unique=True)
    made_on = models.DateField()
    met = models.PositiveIntegerField()
    afterwards = models.PositiveIntegerField()
    reset = models.PositiveIntegerField()
    waiting = models.PositiveIntegerField()
    figures = models.JSONField()

    class Meta:
        ordering = ["quantity"]

    def __str__(self) -> str:
        return f"{self.quantity or 'all'}, {self.made_on}"
