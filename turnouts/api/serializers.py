"""Rows as JSON. Lengths are exact decimals in mm, speeds in km/h, tonnage in MGT."""

from typing import Any

from django.conf import settings
from django.urls import reverse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from turnouts.models import (
    Component,
    Defect,
    DefectStep,
    Inspection,
    Installation,
    Line,
    LongRun,
    Measurement,
    Photograph,
    ShopVisit,
    Traffic,
    Turnout,
)


def named_by(field: str) -> Any:
    """A related row, given by the name people know it by."""
    return serializers.SlugRelatedField(field, read_only=True)


@extend_schema_field(OpenApiTypes.STR)
class CurrencyField(serializers.Field):  # type: ignore[type-arg]
    """The currency of the money beside it, by the three letters of ISO 4217."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**options | {"read_only": True, "source": "*"})

    def to_representation(self, value: Any) -> str:
        code: str = settings.CURRENCY
        return code


class LineSerializer(serializers.ModelSerializer[Line]):
    territory = named_by("code")

    class Meta:
        model = Line
        fields = ["code", "name", "territory", "milepost_unit"]


class TrafficSerializer(serializers.ModelSerializer[Traffic]):
    class Meta:
        model = Traffic
        fields = ["route", "since", "trains_per_day", "annual_mgt"]


class TurnoutSerializer(serializers.ModelSerializer[Turnout]):
    line = serializers.CharField(source="track.line.code", read_only=True)
    track = serializers.CharField(source="track.name", read_only=True)
    territory = serializers.CharField(source="track.line.territory.code", read_only=True)
    traffic = TrafficSerializer(many=True, read_only=True)

    class Meta:
        model = Turnout
        fields = [
            "id",
            "code",
            "territory",
            "line",
            "track",
            "milepost",
            "chainage_m",
            "hand",
            "frog_number",
            "rail_section",
            "faces",
            "speed_through_kmh",
            "speed_diverging_kmh",
            "access",
            "latitude",
            "longitude",
            "held_by_one_rod",
            "used_monthly",
            "carries_passengers",
            "traffic",
            "version",
        ]


class InstallationSerializer(serializers.ModelSerializer[Installation]):
    turnout = named_by("code")

    class Meta:
        model = Installation
        fields = [
            "turnout",
            "position",
            "installed_on",
            "removed_on",
            "mgt_at_installation",
            "mgt_at_removal",
            "reason_removed",
        ]


class ShopVisitSerializer(serializers.ModelSerializer[ShopVisit]):
    class Meta:
        model = ShopVisit
        fields = ["shop", "arrived_on", "left_on", "work"]


class ComponentSerializer(serializers.ModelSerializer[Component]):
    installations = InstallationSerializer(many=True, read_only=True)
    shop_visits = ShopVisitSerializer(many=True, read_only=True)

    class Meta:
        model = Component
        fields = [
            "id",
            "serial",
            "kind",
            "design",
            "steel",
            "rail_section",
            "made_on",
            "heavy_point_mark",
            "gage_plates",
            "elastic_fasteners",
            "adjustable_braces",
            "installations",
            "shop_visits",
            "version",
        ]


class MeasurementSerializer(serializers.ModelSerializer[Measurement]):
    component = named_by("serial")
    instrument = named_by("code")

    class Meta:
        model = Measurement
        fields = [
            "component",
            "quantity",
            "route",
            "behind_point_mm",
            "value",
            "uncertainty",
            "typed",
            "typed_unit",
            "instrument",
        ]


class InspectionSerializer(serializers.ModelSerializer[Inspection]):
    turnout = named_by("code")
    inspector = named_by("username")
    measurements = MeasurementSerializer(many=True, read_only=True)

    class Meta:
        model = Inspection
        fields = [
            "id",
            "reference",
            "turnout",
            "inspected_at",
            "kind",
            "inspector",
            "thrown",
            "note",
            "measurements",
        ]


class DefectStepSerializer(serializers.ModelSerializer[DefectStep]):
    by = named_by("username")

    class Meta:
        model = DefectStep
        fields = ["state", "at", "by", "note"]


class PhotographSerializer(serializers.ModelSerializer[Photograph]):
    address = serializers.SerializerMethodField()

    class Meta:
        model = Photograph
        fields = ["id", "caption", "added_at", "width_px", "height_px", "sha256", "address"]

    def get_address(self, row: Photograph) -> str:
        return reverse("photograph", args=[row.pk])


class DefectSerializer(serializers.ModelSerializer[Defect]):
    turnout = named_by("code")
    component = named_by("serial")
    inspection = named_by("reference")
    steps = DefectStepSerializer(many=True, read_only=True)
    photographs = PhotographSerializer(many=True, read_only=True)

    class Meta:
        model = Defect
        fields = [
            "id",
            "reference",
            "inspection",
            "turnout",
            "component",
            "kind",
            "zone",
            "length_mm",
            "width_mm",
            "depth_mm",
            "behind_point_mm",
            "orientation",
            "breaks_surface",
            "reaches_edge",
            "reaches_base",
            "head_reach",
            "flaw",
            "head_share_percent",
            "welder_access",
            "metal_left_mm",
            "hardened_mm",
            "damaged",
            "note",
            "reported_on",
            "state",
            "steps",
            "photographs",
            "version",
        ]


class RunSerializer(serializers.ModelSerializer[LongRun]):
    class Meta:
        model = LongRun
        fields = [
            "id",
            "kind",
            "request_key",
            "state",
            "done",
            "total",
            "message",
            "result",
            "requested_at",
            "started_at",
            "finished_at",
        ]
