"""What an inspector found: the visit, the instruments, the measurements."""

from typing import Any, Self

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Q

from turnouts.analysis.terms import Quantity, Route
from turnouts.models.audit import audited
from turnouts.models.choices import choices, only
from turnouts.models.components import Component
from turnouts.models.turnouts import Turnout

# Seven places hold 1/128 inch exactly (0.1984375 mm), so a limit is never rounded.
EXACT: dict[str, Any] = {"max_digits": 14, "decimal_places": 7}


@audited()
class Instrument(models.Model):
    """A gauge, with what it can resolve; the uncertainty is a 95 % half-width in mm."""

    code = models.CharField(max_length=24, unique=True)
    name = models.CharField(max_length=80)
    uncertainty_mm = models.DecimalField(**EXACT)
    calibrated_on = models.DateField(null=True, blank=True)
    calibration_due = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(uncertainty_mm__gte=0), name="instrument_uncertainty_not_negative"
            )
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


class InspectionQuerySet(models.QuerySet["Inspection"]):
    def with_place(self) -> Self:
        return self.select_related("turnout__track__line__territory", "inspector")


@audited()
class Inspection(models.Model):
    KINDS = [
        ("on_foot", "On foot"),
        ("vehicle", "From a vehicle"),
        ("detailed", "Detailed, with gauges"),
        ("after_repair", "After a repair"),
    ]

    reference = models.CharField(max_length=40, unique=True)
    turnout = models.ForeignKey(Turnout, on_delete=models.PROTECT, related_name="inspections")
    inspected_at = models.DateTimeField()
    kind = models.CharField(max_length=16, choices=KINDS)
    inspector = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="inspections"
    )
    # Whether the switch was operated to all its positions, 49 CFR 213.235(b).
    thrown = models.BooleanField(null=True, blank=True)
    note = models.TextField(blank=True)

    objects = InspectionQuerySet.as_manager()
    territory_path = "turnout__track__line__territory"

    class Meta:
        ordering = ["-inspected_at", "reference"]
        indexes = [models.Index(fields=["turnout", "-inspected_at"])]
        triggers = [pgtrigger.Protect(name="inspections_stay", operation=pgtrigger.Delete)]

    def __str__(self) -> str:
        return self.reference


@audited()
class Measurement(models.Model):
    """One reading. ``value`` is exact, in mm (lengths), HBW (hardness) or degC (temperature).

    ``typed`` and ``typed_unit`` keep what the inspector wrote, so that a wrong conversion could
    be found years later. ``uncertainty`` is a 95 % half-width in the unit of ``value``.
    """

    inspection = models.ForeignKey(
        Inspection, on_delete=models.PROTECT, related_name="measurements"
    )
    component = models.ForeignKey(
        Component, on_delete=models.PROTECT, null=True, blank=True, related_name="measurements"
    )
    quantity = models.CharField(max_length=24, choices=choices(Quantity))
    route = models.CharField(max_length=10, choices=choices(Route), blank=True)
    behind_point_mm = models.DecimalField(null=True, blank=True, **EXACT)
    value = models.DecimalField(**EXACT)
    uncertainty = models.DecimalField(**EXACT)
    typed = models.CharField(max_length=24)
    typed_unit = models.CharField(max_length=8)
    instrument = models.ForeignKey(
        Instrument, on_delete=models.PROTECT, null=True, blank=True, related_name="measurements"
    )

    territory_path = "inspection__turnout__track__line__territory"

    class Meta:
        ordering = ["inspection", "quantity", "route", "behind_point_mm"]
        indexes = [models.Index(fields=["component", "quantity"])]
        constraints = [
            only("quantity", Quantity, "measurement_quantity_is_known"),
            models.CheckConstraint(
                condition=Q(uncertainty__gte=0), name="measurement_uncertainty_not_negative"
            ),
            models.UniqueConstraint(
                fields=["inspection", "component", "quantity", "route", "behind_point_mm"],
                name="one_reading_of_a_thing_a_visit",
                nulls_distinct=False,
            ),
        ]
        triggers = [pgtrigger.Protect(name="measurements_stay", operation=pgtrigger.Delete)]

    def __str__(self) -> str:
        return f"{self.quantity} {self.typed} {self.typed_unit}"
