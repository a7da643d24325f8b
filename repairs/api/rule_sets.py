"""Under which rule sets a territory stands, for programs: propose, look, answer."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_view
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from repairs.api.answered import ANSWER_FIELDS, AnsweredSerializer
from repairs.api.rules import AnswerSerializer, Proposals
from repairs.models import RuleSetChange
from repairs.services import rule_set_changes as service
from turnouts.access import visible
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.serializers import named_by
from turnouts.models import LongRun, Territory


class RuleSetChangeSerializer(AnsweredSerializer):
    """``names`` are the rule sets as they are to be, ``stood`` as they were when proposed."""

    territory = named_by("code")
    names = serializers.ListField(child=serializers.CharField(), read_only=True)
    stood = serializers.ListField(child=serializers.CharField(), read_only=True)

    class Meta:
        model = RuleSetChange
        fields = [
            "id",
            "territory",
            "names",
            "stood",
            *ANSWER_FIELDS,
        ]


class NewRuleSetsSerializer(serializers.Serializer[Any]):
    territory = serializers.CharField(max_length=16, help_text="Code.")
    names = serializers.ListField(child=serializers.CharField(max_length=40), max_length=10)
    reason = serializers.CharField(max_length=service.LETTERS)


@extend_schema_view(
    reject=extend_schema(request=AnswerSerializer, responses=RuleSetChangeSerializer)
)
class RuleSetChangeViewSet(Proposals):
    """Changes of a territory's rule sets: proposed by one engineer, answered by another."""

    queryset = RuleSetChange.objects.select_related("territory", "proposed_by", "answered_by")
    serializer_class = RuleSetChangeSerializer
    filterset_fields = ["state", "territory__code"]

    def get_queryset(self) -> Any:
        rows = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):  # the schema is made without a person
            return rows
        return visible(person_of(self.request), rows)

    @extend_schema(
        request=NewRuleSetsSerializer,
        responses={201: RuleSetChangeSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def create(self, request: Request) -> Response:
        """Propose; nothing changes until a second engineer approves it."""
        given = NewRuleSetsSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        by, values = person_of(request), given.validated_data
        places = visible(by, Territory.objects.all())
        made = service.propose_rule_sets(
            by=by,
            territory=get_object_or_404(places, code=values["territory"]),
            names=values["names"],
            reason=values["reason"],
            at=timezone.now(),
        )
        return Response(RuleSetChangeSerializer(made).data, status=201)

    def approve_row(self, row: RuleSetChange, **given: Any) -> LongRun:
        return service.approve_rule_sets(change=row, **given)

    def reject_row(self, row: RuleSetChange, **given: Any) -> RuleSetChange:
        return service.reject_rule_sets(change=row, **given)
