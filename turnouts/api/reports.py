"""An inspection reported by a program: what it must look like, and what it becomes."""

from typing import Any

from django.utils import timezone
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from turnouts.access import visible
from turnouts.analysis.terms import (
    DefectKind,
    HeadReach,
    Orientation,
    Quantity,
    RailFlaw,
    Route,
    Term,
    Zone,
)
from turnouts.analysis.units import QUANTITY_DIMENSION, UnitError, parse, unit_named
from turnouts.models import Component, Inspection, Instrument, Person, Turnout
from turnouts.models.choices import choices
from turnouts.services.history import NewDefect, NewMeasurement, report_inspection

AT_MOST = 500


def word_of(terms: type[Term], **options: Any) -> Any:
    return serializers.ChoiceField(choices(terms), **options)


def size_mm(**options: Any) -> Any:
    return serializers.DecimalField(
        max_digits=14, decimal_places=7, min_value=0, required=False, allow_null=True, **options
    )


class NewMeasurementSerializer(serializers.Serializer[Any]):
    quantity = word_of(Quantity)
    typed = serializers.CharField(max_length=24, help_text='What the gauge showed, like "1 3/8".')
    unit = serializers.CharField(max_length=8, help_text="in, mm, degF, degC or HBW.")
    component = serializers.CharField(max_length=40, required=False, help_text="Serial number.")
    route = word_of(Route, required=False)
    behind_point_mm = size_mm()
    instrument = serializers.CharField(max_length=24, required=False, help_text="Code.")

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        dimension = QUANTITY_DIMENSION[Quantity(given["quantity"])]
        try:
            given["value"] = parse(given["typed"], given["unit"], dimension)
            given["unit"] = unit_named(given["unit"], dimension).symbol
        except UnitError as fault:
            raise ValidationError({"typed": str(fault)}) from None
        return given


class NewDefectSerializer(serializers.Serializer[Any]):
    reference = serializers.CharField(max_length=40)
    component = serializers.CharField(max_length=40, help_text="Serial number.")
    kind = word_of(DefectKind)
    zone = word_of(Zone)
    length_mm = size_mm()
    width_mm = size_mm()
    depth_mm = size_mm()
    behind_point_mm = size_mm()
    orientation = word_of(Orientation, required=False)
    breaks_surface = serializers.BooleanField(required=False, allow_null=True, default=None)
    reaches_edge = serializers.BooleanField(required=False, allow_null=True, default=None)
    reaches_base = serializers.BooleanField(required=False, allow_null=True, default=None)
    head_reach = word_of(HeadReach, required=False)
    flaw = word_of(RailFlaw, required=False, help_text="By a rail test.")
    head_share_percent = serializers.DecimalField(
        max_digits=5,
        decimal_places=2,
        min_value=0,
        max_value=100,
        required=False,
        allow_null=True,
        help_text="Of the area of the rail head, by a rail test.",
    )
    welder_access = serializers.BooleanField(
        required=False,
        allow_null=True,
        default=None,
        help_text="With gouge, grinder and preheat, the part in track.",
    )
    metal_left_mm = size_mm(help_text="Sound metal under the defect.")
    hardened_mm = size_mm(help_text="How deep the work-hardened skin of a casting goes there.")
    damaged = serializers.BooleanField(
        required=False,
        allow_null=True,
        default=None,
        help_text="A rail hurt by a derailment, a broken or flat wheel, or wheels slipping.",
    )
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True, default="")


class NewInspectionSerializer(serializers.Serializer[Any]):
    reference = serializers.CharField(max_length=40)
    turnout = serializers.CharField(max_length=24, help_text="Code.")
    inspected_at = serializers.DateTimeField()
    kind = serializers.ChoiceField(Inspection.KINDS)
    thrown = serializers.BooleanField(
        required=False,
        allow_null=True,
        default=None,
        help_text="Whether the switch was operated to all its positions.",
    )
    note = serializers.CharField(max_length=2000, required=False, allow_blank=True, default="")
    measurements = NewMeasurementSerializer(many=True, required=False, default=list)
    defects = NewDefectSerializer(many=True, required=False, default=list)

    def validate_inspected_at(self, at: Any) -> Any:
        if at > timezone.now():
            raise ValidationError("That is still to come. Give the time of the visit.")
        return at

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        for name in ("measurements", "defects"):
            if len(given[name]) > AT_MOST:
                raise ValidationError({name: f"At most {AT_MOST} in one inspection."})
        return given


def keep_report(by: Person, given: dict[str, Any]) -> Inspection:
    """Keep a checked report; rows it names must exist for this person."""
    turnout = visible(by, Turnout.objects.with_place()).filter(code=given["turnout"]).first()
    if turnout is None:
        raise ValidationError({"turnout": f"There is no turnout {given['turnout']}."})
    named = _Named(by, given)
    return report_inspection(
        by=by,
        reference=given["reference"],
        turnout=turnout,
        inspected_at=given["inspected_at"],
        kind=given["kind"],
        thrown=given["thrown"],
        note=given["note"],
        measurements=[_measurement(row, named) for row in given["measurements"]],
        defects=[_defect(row, named) for row in given["defects"]],
    )


class _Named:
    """The components and instruments a report names, read in two queries."""

    def __init__(self, by: Person, given: dict[str, Any]) -> None:
        rows = [*given["measurements"], *given["defects"]]
        serials = {row["component"] for row in rows if row.get("component")}
        codes = {row["instrument"] for row in rows if row.get("instrument")}
        mine = visible(by, Component.objects.filter(serial__in=serials))
        self.components = {row.serial: row for row in mine}
        self.instruments = {row.code: row for row in Instrument.objects.filter(code__in=codes)}

    def component(self, serial: str) -> Component:
        if serial not in self.components:
            raise ValidationError({"component": f"There is no component {serial}."})
        return self.components[serial]

    def instrument(self, code: str) -> Instrument:
        if code not in self.instruments:
            raise ValidationError({"instrument": f"There is no instrument {code}."})
        return self.instruments[code]


def _measurement(row: dict[str, Any], named: _Named) -> NewMeasurement:
    return NewMeasurement(
        quantity=Quantity(row["quantity"]),
        value=row["value"],
        typed=row["typed"],
        typed_unit=row["unit"],
        component=named.component(row["component"]) if row.get("component") else None,
        route=Route(row["route"]) if row.get("route") else None,
        behind_point_mm=row.get("behind_point_mm"),
        instrument=named.instrument(row["instrument"]) if row.get("instrument") else None,
    )


def _defect(row: dict[str, Any], named: _Named) -> NewDefect:
    words = {
        "component": named.component(row["component"]),
        "kind": DefectKind(row["kind"]),
        "zone": Zone(row["zone"]),
        "orientation": Orientation(row["orientation"]) if row.get("orientation") else None,
        "head_reach": HeadReach(row["head_reach"]) if row.get("head_reach") else None,
        "flaw": RailFlaw(row["flaw"]) if row.get("flaw") else None,
    }
    return NewDefect(**(row | words))
