"""Procedures and own editions as JSON. Values are in the unit of each row."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from repairs.api.answered import ANSWER_FIELDS, AnsweredSerializer
from repairs.models import OwnerProcedure, OwnerSetting
from repairs.services.own_procedures import LETTERS
from repairs.welding.procedures import Procedure


@extend_schema_field(
    {
        "oneOf": [
            {"type": "number"},
            {"type": "string"},
            {"type": "array", "items": {"type": "string"}},
        ]
    }
)
class ValueField(serializers.JSONField):
    """A number, words, or a list of words."""

    def to_internal_value(self, data: Any) -> Any:
        value = super().to_internal_value(data)
        listed = isinstance(value, list) and all(isinstance(one, str) for one in value)
        if isinstance(value, bool) or not (listed or isinstance(value, int | float | str)):
            raise serializers.ValidationError("Give a number, words, or a list of words.")
        return value


class InterpassSerializer(serializers.Serializer[Any]):
    key = serializers.CharField()
    limit_degc = serializers.FloatField()
    place_mm = serializers.FloatField()
    mark = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    note = serializers.CharField()


class RowSerializer(serializers.Serializer[Any]):
    key = serializers.CharField()
    value = ValueField()
    unit = serializers.CharField()
    mark = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    clause = serializers.CharField()
    note = serializers.CharField()


class ProcedureSerializer(serializers.Serializer[Any]):
    """A procedure in force; values are in the unit of each row."""

    id = serializers.CharField()
    title = serializers.CharField()
    since = serializers.DateField(source="start")
    own_edition = serializers.IntegerField(allow_null=True)
    process = serializers.CharField()
    steels = serializers.ListField(child=serializers.CharField())
    components = serializers.ListField(child=serializers.CharField())
    interpass = InterpassSerializer()
    interpass_rules = InterpassSerializer(many=True)
    settings = serializers.SerializerMethodField()

    @extend_schema_field(RowSerializer(many=True))
    def get_settings(self, edition: Procedure) -> Any:
        return RowSerializer(edition.rows.values(), many=True).data


class ChangeSerializer(serializers.ModelSerializer[OwnerSetting]):
    value = ValueField()

    class Meta:
        model = OwnerSetting
        fields = ["key", "value", "unit", "reason"]
        read_only_fields = ["unit"]


class OwnInterpassSerializer(serializers.Serializer[Any]):
    limit_degc = serializers.FloatField()
    place_mm = serializers.FloatField()
    reason = serializers.CharField(max_length=LETTERS)


class EditionSerializer(AnsweredSerializer):
    changes = ChangeSerializer(many=True, read_only=True)

    class Meta:
        model = OwnerProcedure
        fields = [
            "id",
            "procedure",
            "base_since",
            "starts_on",
            "begins_on",
            "changes",
            "interpass_rule",
            "interpass_limit_degc",
            "interpass_place_mm",
            "interpass_reason",
            *ANSWER_FIELDS,
            "version",
        ]


class EditionProposalSerializer(serializers.Serializer[Any]):
    """The whole edition: every setting that is to differ from the shipped one."""

    procedure = serializers.CharField(max_length=40)
    starts_on = serializers.DateField()
    changes = ChangeSerializer(many=True)
    interpass_rule = serializers.CharField(
        max_length=40, required=False, allow_blank=True, default=""
    )
    own_interpass = OwnInterpassSerializer(required=False, allow_null=True, default=None)
    reason = serializers.CharField(max_length=LETTERS)
    seen = serializers.IntegerField(
        min_value=0, help_text="The newest approved own edition you know of; 0 for none."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if bool(attrs["interpass_rule"]) == (attrs["own_interpass"] is not None):
            raise serializers.ValidationError(
                "Name a listed interpass_rule, or give own_interpass: one of the two."
            )
        return attrs


class EditionAnswerSerializer(serializers.Serializer[Any]):
    version = serializers.IntegerField(help_text="The version you looked at.")
    note = serializers.CharField(max_length=LETTERS, required=False, allow_blank=True, default="")


class EditionApprovalSerializer(EditionAnswerSerializer):
    preview = serializers.IntegerField(help_text="The id of the run whose result was looked at.")


class EditionPreviewSerializer(serializers.Serializer[Any]):
    request_key = serializers.CharField(
        max_length=40, help_text="Chosen by the sender: the same key gives the same run."
    )
