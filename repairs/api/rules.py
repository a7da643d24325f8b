"""The railway's own rules for programs: read, propose, look at what would change, answer."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import serializers, viewsets
from rest_framework.decorators import action
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from repairs.api.answered import ANSWER_FIELDS, AnsweredSerializer
from repairs.models import OwnerRule
from repairs.rule_figures import speed_typed
from repairs.services import owner_rules as service
from repairs.services.rule_preview import request_preview
from repairs.triage.owner_figures import Figure
from turnouts.access import Action, require, visible
from turnouts.analysis.units import UnitError
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.serializers import RunSerializer, named_by
from turnouts.models import LongRun, Territory
from turnouts.models.choices import choices


class OwnerRuleSerializer(AnsweredSerializer):
    """``value`` is in the unit of the figure: mm, mph or a whole number."""

    territory = named_by("code")

    class Meta:
        model = OwnerRule
        fields = [
            "id",
            "rule",
            "figure",
            "track_class",
            "value",
            "typed",
            "stood",
            "starts_on",
            "ends_on",
            "territory",
            *ANSWER_FIELDS,
            "begins_on",
        ]


class ProposalSerializer(serializers.Serializer[Any]):
    rule = serializers.CharField(max_length=80)
    figure = serializers.ChoiceField(choices(Figure))
    value = serializers.DecimalField(max_digits=14, decimal_places=7)
    speed_unit = serializers.ChoiceField(
        ["mph", "km/h"],
        default="mph",
        help_text="Of a cap: km/h are kept as given and taken as the whole mph below.",
    )
    starts_on = serializers.DateField()
    reason = serializers.CharField(max_length=service.LETTERS)
    track_class = serializers.IntegerField(
        min_value=0, max_value=5, required=False, allow_null=True, default=None
    )
    ends_on = serializers.DateField(required=False, allow_null=True, default=None)
    territory = serializers.CharField(
        max_length=16, required=False, allow_null=True, default=None, help_text="Empty: all."
    )


class AnswerSerializer(serializers.Serializer[Any]):
    note = serializers.CharField(
        max_length=service.LETTERS, required=False, allow_blank=True, default=""
    )


class ApprovalSerializer(AnswerSerializer):
    preview = serializers.IntegerField(help_text="The id of the run whose result was looked at.")


class PreviewSerializer(serializers.Serializer[Any]):
    request_key = serializers.CharField(
        max_length=40, help_text="Chosen by the sender: the same key gives the same run."
    )


class Proposals(viewsets.ReadOnlyModelViewSet):  # type: ignore[type-arg]
    """What one engineer proposes and another answers, with what it would change before them."""

    lookup_value_regex = "[0-9]+"

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(person_of(request), Action.SEE)

    def approve_row(self, row: Any, **given: Any) -> LongRun:
        raise NotImplementedError

    def reject_row(self, row: Any, **given: Any) -> Any:
        raise NotImplementedError

    @extend_schema(request=PreviewSerializer, responses={202: RunSerializer})
    @action(detail=True, methods=["post"])
    def preview(self, request: Request, pk: str) -> Response:
        """Queue the judging of open defects by the present and the new rules."""
        given = PreviewSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        row = self.get_object()
        run = request_preview(
            by=person_of(request),
            rule=row,
            on=timezone.localdate(),
            request_key=f"{self.basename} {pk} {request.user.pk} "
            f"{given.validated_data['request_key']}",
        )
        return Response(RunSerializer(run).data, status=202)

    @extend_schema(request=ApprovalSerializer, responses={202: RunSerializer})
    @action(detail=True, methods=["post"])
    def approve(self, request: Request, pk: str) -> Response:
        """Approve as the second engineer; the run judges the open defects by the new rule."""
        given = ApprovalSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        run = self.approve_row(
            self.get_object(),
            by=person_of(request),
            preview=LongRun.objects.filter(pk=given.validated_data["preview"]).first(),
            on=timezone.localdate(),
            at=timezone.now(),
            note=given.validated_data["note"],
        )
        return Response(RunSerializer(run).data, status=202)

    @action(detail=True, methods=["post"])
    def reject(self, request: Request, pk: str) -> Response:
        """Reject as the second engineer, with words."""
        given = AnswerSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        row = self.reject_row(
            self.get_object(),
            by=person_of(request),
            note=given.validated_data["note"],
            at=timezone.now(),
        )
        return Response(self.get_serializer(row).data)


@extend_schema_view(reject=extend_schema(request=AnswerSerializer, responses=OwnerRuleSerializer))
class OwnerRuleViewSet(Proposals):
    """Figures the railway set itself: proposed by one engineer, answered by another."""

    queryset = OwnerRule.objects.all()
    serializer_class = OwnerRuleSerializer
    filterset_fields = ["state", "rule", "figure", "territory__code"]

    def get_queryset(self) -> Any:
        if getattr(self, "swagger_fake_view", False):  # the schema is made without a person
            return super().get_queryset()
        return service.visible_rules(person_of(self.request))

    def approve_row(self, row: OwnerRule, **given: Any) -> LongRun:
        return service.approve_rule(rule=row, **given)

    def reject_row(self, row: OwnerRule, **given: Any) -> OwnerRule:
        return service.reject_rule(rule=row, **given)

    @extend_schema(
        request=ProposalSerializer, responses={201: OwnerRuleSerializer}, parameters=[KEY_PARAMETER]
    )
    @once
    def create(self, request: Request) -> Response:
        """Propose a figure; nothing changes until a second engineer approves it."""
        given = ProposalSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        values = _in_mph(given.validated_data)
        made = service.propose_rule(
            by=person_of(request),
            proposal=service.Proposal(
                **values
                | {
                    "figure": Figure(values["figure"]),
                    "territory": _territory(request, values["territory"]),
                }
            ),
            on=timezone.localdate(),
            at=timezone.now(),
        )
        return Response(OwnerRuleSerializer(made).data, status=201)


def _in_mph(values: dict[str, Any]) -> dict[str, Any]:
    """A cap given in km/h as the whole mph that the rules reckon with."""
    unit = values.pop("speed_unit")
    if unit == "mph" or values["figure"] != Figure.CAP.value:
        return values
    try:
        mph, typed = speed_typed(f"{values['value'].normalize():f}", unit)
    except UnitError as fault:
        raise ValidationError({"value": str(fault)}) from None
    return values | {"value": mph, "typed": typed}


def _territory(request: Request, code: str | None) -> Territory | None:
    if not code:
        return None
    return get_object_or_404(visible(person_of(request), Territory.objects.all()), code=code)
