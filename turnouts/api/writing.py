"""What a program may send besides reports: facts of a turnout, photographs, files in and out."""

from dataclasses import replace
from typing import Any

from rest_framework import serializers

from turnouts.analysis.terms import Hand
from turnouts.models import Person, Turnout
from turnouts.models.choices import choices
from turnouts.services import inventory


def speed_kmh() -> Any:
    return serializers.DecimalField(max_digits=9, decimal_places=6, required=False)


def coordinate(digits: int) -> Any:
    return serializers.DecimalField(
        max_digits=digits,
        decimal_places=6,
        required=False,
        allow_null=True,
        help_text="Decimal degrees of WGS 84, south and west below zero; both or neither.",
    )


class TurnoutChangeSerializer(serializers.Serializer[Any]):
    version = serializers.IntegerField(min_value=1)
    milepost = serializers.DecimalField(max_digits=8, decimal_places=3, required=False)
    hand = serializers.ChoiceField(choices(Hand), required=False)
    frog_number = serializers.DecimalField(max_digits=5, decimal_places=2, required=False)
    rail_section = serializers.CharField(max_length=16, required=False)
    faces = serializers.ChoiceField(Turnout.FACING, required=False)
    speed_through_kmh = speed_kmh()
    speed_diverging_kmh = speed_kmh()
    access = serializers.CharField(max_length=200, required=False, allow_blank=True)
    latitude = coordinate(8)
    longitude = coordinate(9)


def change_turnout(by: Person, turnout: Turnout, given: dict[str, Any]) -> Turnout:
    """Keep the given facts beside the present ones."""
    changed = {name: value for name, value in given.items() if name != "version"}
    if "hand" in changed:
        changed["hand"] = Hand(changed["hand"])
    return inventory.update_turnout(
        by=by,
        turnout=turnout,
        facts=replace(inventory.facts_of(turnout), **changed),
        expected_version=given["version"],
    )


class NewPhotographSerializer(serializers.Serializer[Any]):
    picture = serializers.FileField()
    caption = serializers.CharField(max_length=120)


class ImportUploadSerializer(serializers.Serializer[Any]):
    file = serializers.FileField(help_text="One XLSX workbook, or a ZIP of CSV files.")
    request_key = serializers.CharField(
        max_length=80, help_text="Chosen by the sender: the same key and file give the same run."
    )


class ExportRequestSerializer(serializers.Serializer[Any]):
    request_key = serializers.CharField(
        max_length=80, help_text="Chosen by the sender: the same key and choice give the same run."
    )
    sheets = serializers.ListField(
        child=serializers.CharField(max_length=40),
        default=list,
        help_text="Names of sheets; none means all that the person may see.",
    )
    form = serializers.ChoiceField(["xlsx", "zip"], default="xlsx")
    units = serializers.ChoiceField(
        ["stored", "own"],
        default="stored",
        help_text="As the values are stored, or in the units the person reads.",
    )


class RefusalSerializer(serializers.Serializer[Any]):
    detail = serializers.CharField()
