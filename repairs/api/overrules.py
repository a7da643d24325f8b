"""The same for programs: what holds of a decision, overruling it, how often that happens."""

from collections.abc import Sequence
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from repairs.models import Decision, Overrule
from repairs.services.overrules import Word, overrule_decision
from repairs.services.overruling_rate import overruling_rates
from repairs.services.standing import standing_for
from turnouts.access import Action, require
from turnouts.analysis.terms import Disposition
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.serializers import named_by
from turnouts.models.choices import choices
from turnouts.models.turnouts import SPEED


class HoldsSerializer(serializers.Serializer[Any]):
    """What holds now. ``asks_again``: overruled earlier, and the facts have changed since."""

    traffic = serializers.CharField()
    speed_kmh = serializers.DecimalField(**SPEED, allow_null=True)
    disposition = serializers.CharField()
    due_on = serializers.DateField(allow_null=True)
    asks_again = serializers.BooleanField()
    overruled = serializers.SerializerMethodField()

    def get_overruled(self, holds: Any) -> bool:
        return holds.overrule is not None


class OverruleSerializer(serializers.ModelSerializer[Overrule]):
    by = named_by("username")

    class Meta:
        model = Overrule
        fields = [
            "id",
            "by",
            "role",
            "at",
            "traffic",
            "speed_kmh",
            "disposition",
            "due_on",
            "reason",
            "milder",
            "authority",
            "carried_from",
        ]


class WordSerializer(serializers.Serializer[Any]):
    """An engineer's word. A milder one names its authority and says expressly that it lifts."""

    traffic = serializers.ChoiceField(Overrule.TRAFFIC)
    speed_kmh = serializers.DecimalField(**SPEED, required=False, allow_null=True, default=None)
    disposition = serializers.ChoiceField(choices(Disposition))
    due_on = serializers.DateField()
    reason = serializers.CharField(max_length=500)
    authority = serializers.ChoiceField(
        Overrule.AUTHORITY, required=False, allow_blank=True, default=""
    )
    lifts = serializers.BooleanField(required=False, default=False)


class RateSerializer(serializers.Serializer[Any]):
    rule = serializers.CharField()
    clause = serializers.CharField()
    title = serializers.CharField()
    judged = serializers.IntegerField()
    overruled = serializers.IntegerField()
    milder = serializers.IntegerField()
    share = serializers.FloatField()


def put_holds(rows: Sequence[Decision]) -> None:
    """Put what holds beside each current decision, in one query; nothing holds of an old one."""
    present = [row for row in rows if row.current]
    standing = standing_for(present)
    for row in rows:
        row.holds = standing.get(row.pk)  # type: ignore[attr-defined]


class Overruling(viewsets.GenericViewSet):  # type: ignore[type-arg]
    """Decisions come with what holds, and may be overruled."""

    def paginate_queryset(self, queryset: Any) -> Any:
        rows = super().paginate_queryset(queryset)
        put_holds(rows or [])
        return rows

    def get_object(self) -> Any:
        row = super().get_object()
        put_holds([row])
        return row

    @extend_schema(
        request=WordSerializer, responses={201: OverruleSerializer}, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    @once
    def overrule(self, request: Request, pk: str) -> Response:
        """Put your own word beside the machine's answer, as an engineer."""
        given = WordSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        values = given.validated_data
        kept = overrule_decision(
            by=person_of(request),
            decision=self.get_object(),
            word=Word(**values | {"disposition": Disposition(values["disposition"])}),
            on=timezone.localdate(),
            at=timezone.now(),
        )
        return Response(OverruleSerializer(kept).data, status=201)


class OverrulingRateViewSet(viewsets.ViewSet):
    """How often engineers overrule, by the rule that had decided."""

    @extend_schema(responses=RateSerializer(many=True))
    def list(self, request: Request) -> Response:
        """Most overruled first; a defect counts once for each rule."""
        require(person_of(request), Action.SEE)
        return Response(RateSerializer(overruling_rates(by=person_of(request)), many=True).data)
