"""Defects, their life and their photographs. A defect is never deleted."""

from typing import Self

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from turnouts.analysis.life import OPEN_STATES
from turnouts.analysis.terms import (
    DefectKind,
    DefectState,
    HeadReach,
    Orientation,
    RailFlaw,
    Zone,
)
from turnouts.models.audit import audited
from turnouts.models.choices import choices, only
from turnouts.models.components import Component
from turnouts.models.inspections import EXACT, Inspection
from turnouts.models.turnouts import Turnout


class DefectQuerySet(models.QuerySet["Defect"]):
    def still_open(self) -> Self:
        return self.filter(state__in=[state.value for state in OPEN_STATES])

    def with_place(self) -> Self:
        return self.select_related("turnout__track__line__territory", "component")


@audited()
class Defect(models.Model):
    """What is wrong with one component, where on it and how large. Empty means not measured."""

    reference = models.CharField(max_length=40, unique=True)
    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="defects")
    turnout = models.ForeignKey(Turnout, on_delete=models.PROTECT, related_name="defects")
    component = models.ForeignKey(Component, on_delete=models.PROTECT, related_name="defects")
    kind = models.CharField(max_length=24, choices=choices(DefectKind))
    zone = models.CharField(max_length=16, choices=choices(Zone))
    length_mm = models.DecimalField(null=True, blank=True, **EXACT)
    width_mm = models.DecimalField(null=True, blank=True, **EXACT)
    depth_mm = models.DecimalField(null=True, blank=True, **EXACT)
    behind_point_mm = models.DecimalField(null=True, blank=True, **EXACT)
    orientation = models.CharField(max_length=16, choices=choices(Orientation), blank=True)
    breaks_surface = models.BooleanField(null=True, blank=True)
    reaches_edge = models.BooleanField(null=True, blank=True)
    reaches_base = models.BooleanField(null=True, blank=True)
    # What 49 CFR 213.113(c) goes by in rails and switch points; most of it takes a rail test.
    head_reach = models.CharField(max_length=12, choices=choices(HeadReach), blank=True)
    flaw = models.CharField(max_length=24, choices=choices(RailFlaw), blank=True)
    head_share_percent = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    # What decides between welding in track and another way, once somebody has looked.
    welder_access = models.BooleanField(null=True, blank=True)
    metal_left_mm = models.DecimalField(null=True, blank=True, **EXACT)
    hardened_mm = models.DecimalField(null=True, blank=True, **EXACT)
    damaged = models.BooleanField(null=True, blank=True)
    note = models.TextField(blank=True)
    reported_on = models.DateField()
    state = models.CharField(
        max_length=12, choices=choices(DefectState), default=DefectState.REPORTED.value
    )
    version = models.PositiveIntegerField(default=1)

    objects = DefectQuerySet.as_manager()
    territory_path = "turnout__track__line__territory"

    class Meta:
        ordering = ["-reported_on", "reference"]
        indexes = [
            models.Index(fields=["state", "-reported_on"]),
            models.Index(fields=["component", "-reported_on"]),
            models.Index(fields=["-reported_on", "reference"]),
        ]
        constraints = [
            only("kind", DefectKind, "defect_kind_is_known"),
            only("zone", Zone, "defect_zone_is_known"),
            only("state", DefectState, "defect_state_is_known"),
            only("head_reach", HeadReach, "defect_head_reach_is_known"),
            only("flaw", RailFlaw, "defect_flaw_is_known"),
            models.CheckConstraint(
                condition=Q(head_share_percent__isnull=True)
                | Q(head_share_percent__gte=0, head_share_percent__lte=100),
                name="flaw_takes_0_to_100_percent_of_the_head",
            ),
            models.CheckConstraint(
                condition=(Q(length_mm__isnull=True) | Q(length_mm__gte=0))
                & (Q(width_mm__isnull=True) | Q(width_mm__gte=0))
                & (Q(depth_mm__isnull=True) | Q(depth_mm__gte=0)),
                name="defect_sizes_are_not_negative",
            ),
            models.CheckConstraint(
                condition=(Q(metal_left_mm__isnull=True) | Q(metal_left_mm__gte=0))
                & (Q(hardened_mm__isnull=True) | Q(hardened_mm__gte=0)),
                name="metal_left_and_hardened_skin_are_not_negative",
            ),
        ]
        triggers = [pgtrigger.Protect(name="defects_stay", operation=pgtrigger.Delete)]

    def __str__(self) -> str:
        return self.reference

    def get_absolute_url(self) -> str:
        """Its record in the history; an app with more to say sets ABSOLUTE_URL_OVERRIDES."""
        return reverse("defect-record", args=[self.reference])

    @property
    def is_open(self) -> bool:
        return DefectState(self.state) in OPEN_STATES


class DefectStep(models.Model):
    """One step in a defect's life. Written once, never changed, never deleted."""

    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="steps")
    state = models.CharField(max_length=12, choices=choices(DefectState))
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=200, blank=True)

    territory_path = "defect__turnout__track__line__territory"

    class Meta:
        ordering = ["defect", "at", "id"]
        constraints = [only("state", DefectState, "defect_step_state_is_known")]
        triggers = [
            pgtrigger.Protect(name="steps_stay", operation=pgtrigger.Delete | pgtrigger.Update)
        ]

    def __str__(self) -> str:
        return f"{self.defect} {self.state} {self.at:%Y-%m-%d}"


class Photograph(models.Model):
    """A picture of a defect, re-encoded on receipt so that no location data stays in it."""

    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="photographs")
    image = models.ImageField(
        upload_to="photographs/%Y/%m", width_field="width_px", height_field="height_px"
    )
    width_px = models.PositiveIntegerField(default=0)
    height_px = models.PositiveIntegerField(default=0)
    sha256 = models.CharField(max_length=64)
    caption = models.CharField(max_length=120)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    territory_path = "defect__turnout__track__line__territory"

    class Meta:
        ordering = ["defect", "added_at"]
        constraints = [
            models.UniqueConstraint(fields=["defect", "sha256"], name="a_photograph_once_a_defect")
        ]

    def __str__(self) -> str:
        return f"{self.defect}: {self.caption}"
