"""Rows as JSON. Lengths are exact decimals in mm, speeds in km/h, times carry their offset."""

from typing import Any

from rest_framework import serializers

from repairs.api.overrules import HoldsSerializer, OverruleSerializer
from repairs.models import Confirmation, Decision, Estimate, JobSheet, RepairJob
from turnouts.api.serializers import CurrencyField, named_by


class ConfirmationSerializer(serializers.ModelSerializer[Confirmation]):
    by = named_by("username")

    class Meta:
        model = Confirmation
        fields = ["by", "role", "at", "note"]


class DecisionInListSerializer(serializers.ModelSerializer[Decision]):
    """The answer of the rules; ``holds`` is what holds, by an engineer's word if there is one."""

    defect = named_by("reference")
    holds = HoldsSerializer(read_only=True, allow_null=True)

    class Meta:
        model = Decision
        fields = [
            "id",
            "defect",
            "decided_at",
            "decided_on",
            "rule_set",
            "traffic",
            "speed_kmh",
            "disposition",
            "due_on",
            "due_reason",
            "sentence",
            "current",
            "holds",
        ]


class DecisionSerializer(DecisionInListSerializer):
    """With everything it rests on: findings, missing readings, the rows of the rules it saw."""

    confirmation = ConfirmationSerializer(read_only=True, allow_null=True)
    overrules = OverruleSerializer(many=True, read_only=True)

    class Meta(DecisionInListSerializer.Meta):
        fields = [*DecisionInListSerializer.Meta.fields, "confirmation", "overrules", "detail"]


class ConfirmSerializer(serializers.Serializer[Any]):
    note = serializers.CharField(max_length=300, required=False, default="", allow_blank=True)


class EstimateInJobSerializer(serializers.ModelSerializer[Estimate]):
    class Meta:
        model = Estimate
        fields = [
            "id",
            "made_at",
            "procedure",
            "procedure_since",
            "own_edition",
            "p50_min",
            "p80_min",
            "p95_min",
            "mean_min",
            "sd_min",
            "shared",
            "cavity_cm3",
            "filler_kg",
            "current",
        ]


class EstimateSerializer(EstimateInJobSerializer):
    """With stages, zones, beads, materials, cautions and assumptions."""

    job = named_by("reference")

    class Meta(EstimateInJobSerializer.Meta):
        fields = ["job", *EstimateInJobSerializer.Meta.fields, "detail"]


class JobSerializer(serializers.ModelSerializer[RepairJob]):
    """``value_per_day`` is money in ``currency``: what each day it is done sooner saves.

    A part of a job, with some of its zones, names the job in ``part_of``; only the last part saves.
    """

    turnout = named_by("code")
    component = named_by("serial")
    part_of: Any = serializers.SlugRelatedField("reference", read_only=True, allow_null=True)
    currency = CurrencyField()
    defects = serializers.SerializerMethodField()
    estimates = EstimateInJobSerializer(many=True, read_only=True)

    class Meta:
        model = RepairJob
        fields = [
            "reference",
            "turnout",
            "component",
            "disposition",
            "procedure",
            "state",
            "due_on",
            "value_per_day",
            "currency",
            "value_reason",
            "part_of",
            "part_number",
            "part_count",
            "defects",
            "estimates",
            "version",
        ]

    def get_defects(self, row: RepairJob) -> list[str]:
        return [one.defect.reference for one in row.treats.all()]


class JobSheetInListSerializer(serializers.ModelSerializer[JobSheet]):
    job = named_by("reference")
    turnout = serializers.CharField(source="job.turnout.code", read_only=True)
    people: Any = serializers.SlugRelatedField("username", many=True, read_only=True)

    class Meta:
        model = JobSheet
        fields = [
            "number",
            "job",
            "turnout",
            "crew",
            "people",
            "starts_at",
            "hand_back_at",
            "issued_at",
            "withdrawn_at",
        ]


class JobSheetSerializer(JobSheetInListSerializer):
    """With the whole content, as it was issued."""

    class Meta(JobSheetInListSerializer.Meta):
        fields = [*JobSheetInListSerializer.Meta.fields, "content"]


class RunStartSerializer(serializers.Serializer[Any]):
    request_key = serializers.CharField(
        max_length=60, help_text="Chosen by the sender: the same key gives the same run."
    )
