"""Components with an identity of their own, and where each has been.

A component outlives its place: it is installed, removed, goes to the shop and may come back
at another turnout. Its defects and measurements stay with it.
"""

from typing import Any, Self

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import RangeOperators
from django.db import models
from django.db.models import F, Q

from turnouts.analysis.terms import ComponentKind, FrogDesign, Position, Steel
from turnouts.models.audit import audited
from turnouts.models.choices import choices, only
from turnouts.models.places import DateRange
from turnouts.models.turnouts import Turnout

MGT: dict[str, Any] = {"max_digits": 10, "decimal_places": 4}


class ComponentQuerySet(models.QuerySet["Component"]):
    def standing(self) -> Self:
        """Components that are in track now."""
        return self.filter(installations__removed_on__isnull=True, installations__isnull=False)


@audited()
class Component(models.Model):
    serial = models.CharField(max_length=40, unique=True)
    kind = models.CharField(max_length=16, choices=choices(ComponentKind))
    design = models.CharField(max_length=24, choices=choices(FrogDesign), blank=True)
    steel = models.CharField(max_length=16, choices=choices(Steel), blank=True)
    rail_section = models.CharField(max_length=16, blank=True)
    made_on = models.DateField(null=True, blank=True)
    # The conditions of 49 CFR 213.143(b) for a heavy-point frog; empty means nobody has looked.
    heavy_point_mark = models.BooleanField(null=True, blank=True)
    gage_plates = models.PositiveSmallIntegerField(null=True, blank=True)
    elastic_fasteners = models.BooleanField(null=True, blank=True)
    adjustable_braces = models.BooleanField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = ComponentQuerySet.as_manager()
    territory_path = "installations__turnout__track__line__territory"

    class Meta:
        ordering = ["serial"]
        constraints = [
            only("kind", ComponentKind, "component_kind_is_known"),
            only("design", FrogDesign, "component_design_is_known"),
            only("steel", Steel, "component_steel_is_known"),
            models.CheckConstraint(
                condition=Q(design="") | Q(kind=ComponentKind.FROG.value),
                name="only_a_frog_has_a_frog_design",
            ),
        ]

    def __str__(self) -> str:
        return self.serial


@audited()
class Installation(models.Model):
    """One stay of one component in one position of one turnout.

    The tonnages are the component's own running total (million gross tons) on the day it went
    in and the day it came out.
    """

    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="installations")
    turnout = models.ForeignKey(Turnout, on_delete=models.PROTECT, related_name="installations")
    position = models.CharField(max_length=24, choices=choices(Position))
    installed_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    mgt_at_installation = models.DecimalField(default=0, **MGT)
    mgt_at_removal = models.DecimalField(null=True, blank=True, **MGT)
    reason_removed = models.CharField(max_length=120, blank=True)

    territory_path = "turnout__track__line__territory"

    class Meta:
        ordering = ["component", "installed_on"]
        constraints = [
            only("position", Position, "installation_position_is_known"),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True) | Q(removed_on__gt=F("installed_on")),
                name="removed_after_installed",
            ),
            models.UniqueConstraint(
                fields=["component", "installed_on"], name="one_installation_a_component_a_day"
            ),
            ExclusionConstraint(
                name="one_component_in_a_position_at_a_time",
                expressions=[
                    ("turnout", RangeOperators.EQUAL),
                    ("position", RangeOperators.EQUAL),
                    (DateRange("installed_on", "removed_on"), RangeOperators.OVERLAPS),
                ],
            ),
            ExclusionConstraint(
                name="one_place_for_a_component_at_a_time",
                expressions=[
                    ("component", RangeOperators.EQUAL),
                    (DateRange("installed_on", "removed_on"), RangeOperators.OVERLAPS),
                ],
            ),
        ]

    def __str__(self) -> str:
        return f"{self.component} at {self.turnout} {self.position} from {self.installed_on}"


@audited()
class ShopVisit(models.Model):
    """A component's stay in the shop, between two installations."""

    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="shop_visits")
    shop = models.CharField(max_length=80)
    arrived_on = models.DateField()
    left_on = models.DateField(null=True, blank=True)
    work = models.CharField(max_length=200)

    territory_path = "component__installations__turnout__track__line__territory"

    class Meta:
        ordering = ["component", "arrived_on"]
        constraints = [
            models.CheckConstraint(
                condition=Q(left_on__isnull=True) | Q(left_on__gte=F("arrived_on")),
                name="left_the_shop_after_arriving",
            ),
            models.UniqueConstraint(
                fields=["component", "arrived_on"], name="one_shop_visit_a_component_a_day"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.component} at {self.shop} from {self.arrived_on}"
