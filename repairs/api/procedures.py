"""Welding procedures and the railway's own editions for programs."""

from typing import Any

from django.http import Http404
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from repairs.models import OwnerProcedure, OwnerSetting
from repairs.services import own_procedures as service
from repairs.services.editions import approved_editions, typed_value
from repairs.services.procedure_preview import request_procedure_preview
from repairs.welding.own_editions import Change
from repairs.welding.procedures import Procedure, all_editions, procedure_in_force
from repairs.welding.refusals import NoProcedure
from turnouts.access import Action, require
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.serializers import RunSerializer, named_by
from turnouts.models import LongRun


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
    settings = RowSerializer(many=True, source="rows.values")


class ChangeSerializer(serializers.ModelSerializer[OwnerSetting]):
    value = ValueField()

    class Meta:
        model = OwnerSetting
        fields = ["key", "value", "unit", "reason"]
        read_only_fields = ["unit"]


class OwnInterpassSerializer(serializers.Serializer[Any]):
    limit_degc = serializers.FloatField()
    place_mm = serializers.FloatField()
    reason = serializers.CharField(max_length=service.LETTERS)


class EditionSerializer(serializers.ModelSerializer[OwnerProcedure]):
    changes = ChangeSerializer(many=True, read_only=True)
    proposed_by = named_by("username")
    answered_by = named_by("username")

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
            "reason",
            "proposed_by",
            "proposed_at",
            "state",
            "answered_by",
            "answered_at",
            "answer_note",
            "version",
        ]


class EditionProposalSerializer(serializers.Serializer[Any]):
    """The whole edition: every setting that is to differ from the shipped one."""

    procedure = serializers.CharField(max_length=40)
    starts_on = serializers.DateField()
    changes = ChangeSerializer(many=True)
    interpass_rule = serializers.CharField(max_length=40, required=False, default="")
    own_interpass = OwnInterpassSerializer(required=False, allow_null=True, default=None)
    reason = serializers.CharField(max_length=service.LETTERS)
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
    note = serializers.CharField(
        max_length=service.LETTERS, required=False, allow_blank=True, default=""
    )


class EditionApprovalSerializer(EditionAnswerSerializer):
    preview = serializers.IntegerField(help_text="The id of the run whose result was looked at.")


class EditionPreviewSerializer(serializers.Serializer[Any]):
    request_key = serializers.CharField(
        max_length=40, help_text="Chosen by the sender: the same key gives the same run."
    )


class ProcedureViewSet(viewsets.ViewSet):
    """The welding procedures in force today, the railway's own editions before those shipped."""

    lookup_value_regex = "[^/]+"

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(person_of(request), Action.SEE)

    @extend_schema(responses=ProcedureSerializer(many=True))
    def list(self, request: Request) -> Response:
        found = [edition for name in all_editions() if (edition := _in_force(name)) is not None]
        return Response(ProcedureSerializer(found, many=True).data)

    @extend_schema(responses=ProcedureSerializer)
    def retrieve(self, request: Request, pk: str) -> Response:
        edition = _in_force(pk)
        if edition is None:
            raise Http404
        return Response(ProcedureSerializer(edition).data)


def _in_force(name: str) -> Procedure | None:
    try:
        return procedure_in_force(name, timezone.localdate(), approved_editions())
    except NoProcedure:
        return None


class EditionViewSet(viewsets.ReadOnlyModelViewSet):  # type: ignore[type-arg]
    """The railway's own editions: proposed by one engineer, answered by another."""

    queryset = OwnerProcedure.objects.select_related("proposed_by", "answered_by").prefetch_related(
        "changes"
    )
    serializer_class = EditionSerializer
    lookup_value_regex = "[0-9]+"
    filterset_fields = ["state", "procedure"]

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(person_of(request), Action.SEE)

    @extend_schema(
        request=EditionProposalSerializer,
        responses={201: EditionSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def create(self, request: Request) -> Response:
        """Propose an edition; nothing changes until a second engineer approves it."""
        given = EditionProposalSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        made = service.propose_edition(
            by=person_of(request),
            proposal=_proposal(given.validated_data),
            on=timezone.localdate(),
            at=timezone.now(),
        )
        return Response(EditionSerializer(made).data, status=201)

    @extend_schema(request=EditionPreviewSerializer, responses={202: RunSerializer})
    @action(detail=True, methods=["post"])
    def preview(self, request: Request, pk: str) -> Response:
        """Queue the estimating of waiting jobs by the present edition and this one."""
        given = EditionPreviewSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        run = request_procedure_preview(
            by=person_of(request),
            edition=self.get_object(),
            on=timezone.localdate(),
            request_key=f"edition {pk} {request.user.pk} {given.validated_data['request_key']}",
        )
        return Response(RunSerializer(run).data, status=202)

    @extend_schema(
        request=EditionApprovalSerializer,
        responses={202: RunSerializer},
        parameters=[KEY_PARAMETER],
    )
    @action(detail=True, methods=["post"])
    @once
    def approve(self, request: Request, pk: str) -> Response:
        """Approve as the second engineer; the run estimates waiting jobs anew."""
        given = EditionApprovalSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        run = service.approve_edition(
            **self._answer(request, given.validated_data),
            preview=LongRun.objects.filter(pk=given.validated_data["preview"]).first(),
            on=timezone.localdate(),
        )
        return Response(RunSerializer(run).data, status=202)

    @extend_schema(
        request=EditionAnswerSerializer, responses=EditionSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    @once
    def reject(self, request: Request, pk: str) -> Response:
        """Reject as the second engineer, with words."""
        given = EditionAnswerSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        row = service.reject_edition(**self._answer(request, given.validated_data))
        return Response(EditionSerializer(row).data)

    @extend_schema(
        request=EditionAnswerSerializer, responses=EditionSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    @once
    def withdraw(self, request: Request, pk: str) -> Response:
        """Take your own proposal back before it is answered."""
        given = EditionAnswerSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        row = service.withdraw_edition(**self._answer(request, given.validated_data))
        return Response(EditionSerializer(row).data)

    def _answer(self, request: Request, given: dict[str, Any]) -> dict[str, Any]:
        return {
            "by": person_of(request),
            "edition": self.get_object(),
            "version": given["version"],
            "note": given["note"],
            "at": timezone.now(),
        }


def _proposal(given: dict[str, Any]) -> service.EditionProposal:
    own = given["own_interpass"]
    return service.EditionProposal(
        procedure=given["procedure"],
        starts_on=given["starts_on"],
        changes=[
            Change(one["key"], typed_value(one["value"]), one["reason"]) for one in given["changes"]
        ],
        interpass=service.OwnInterpass(**own) if own else given["interpass_rule"],
        reason=given["reason"],
        seen=given["seen"],
    )
