"""The planning of the whole network: asked for here, followed as a run."""

from datetime import date

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView
from rest_framework.viewsets import GenericViewSet

from planning.api.serializers import NetworkRequestSerializer
from planning.models import CrewLoan
from planning.network_week import NetworkWeek, TerritoryWeek, network_week
from planning.services.calendar import Week
from planning.services.network import request_network
from planning.services.stopping import NETWORK, stop_planning
from turnouts.access import Action, require
from turnouts.api.reading import person_of
from turnouts.api.serializers import RunSerializer
from turnouts.models import LongRun


class TerritoryWeekSerializer(serializers.Serializer[TerritoryWeek]):
    """One territory's newest plan of the week; ``state`` and ``message`` are of its planning."""

    territory = serializers.CharField(source="territory.code")
    plan = serializers.IntegerField(source="plan.pk", allow_null=True, default=None)
    number = serializers.IntegerField(source="plan.number", allow_null=True, default=None)
    plan_state = serializers.CharField(source="plan.state", allow_null=True, default=None)
    value = serializers.FloatField(source="plan.value", allow_null=True, default=None)
    gap = serializers.FloatField(allow_null=True)
    keeping_costs = serializers.FloatField(allow_null=True)
    placed = serializers.IntegerField()
    left_out = serializers.IntegerField()
    late = serializers.IntegerField()
    crew_hours = serializers.FloatField()
    undone_a_day = serializers.FloatField()
    state = serializers.CharField(source="part.state", allow_null=True, default=None)
    message = serializers.CharField(source="part.message", allow_null=True, default=None)


class LoanSerializer(serializers.Serializer[CrewLoan]):
    """A shift that a shared crew works away from home."""

    crew = serializers.CharField(source="shift.crew.code")
    starts_at = serializers.DateTimeField(source="shift.starts_at")
    ends_at = serializers.DateTimeField(source="shift.ends_at")
    home = serializers.CharField(source="shift.crew.depot.territory.code")
    territory = serializers.CharField(source="territory.code")


class NetworkWeekSerializer(serializers.Serializer[NetworkWeek]):
    """Every territory the caller sees; ``seconds`` and ``jobs_a_minute`` are of the last run."""

    week = serializers.DateField(source="week.monday")
    run = RunSerializer(allow_null=True)
    seconds = serializers.FloatField(allow_null=True)
    jobs_a_minute = serializers.FloatField(allow_null=True)
    rows = TerritoryWeekSerializer(many=True)
    loans = LoanSerializer(many=True)


class NetworkWeekView(APIView):
    """All territories' weeks beside each other."""

    @extend_schema(responses=NetworkWeekSerializer)
    def get(self, request: Request, monday: date) -> Response:
        """Plans, lent crews and the last planning of the network in a week."""
        person = person_of(request)
        require(person, Action.SEE_SHEETS)
        return Response(NetworkWeekSerializer(network_week(person, Week(monday))).data)


class NetworkPlanViewSet(GenericViewSet):  # type: ignore[type-arg]
    """One task a territory; idle shifts of shared crews are lent to where most is left undone."""

    queryset = LongRun.objects.filter(kind=NETWORK)
    serializer_class = NetworkRequestSerializer

    @extend_schema(responses={202: RunSerializer})
    def create(self, request: Request) -> Response:
        """Plan a week in every territory the caller plans for; the answer is the run."""
        form = self.get_serializer(data=request.data)
        form.is_valid(raise_exception=True)
        run, _ = request_network(
            by=person_of(request),
            week=Week(form.validated_data["week"]),
            request_key=form.validated_data["request_key"],
            keep=form.validated_data["keep"],
        )
        return Response(RunSerializer(run).data, status=202)

    @extend_schema(request=None, responses={202: RunSerializer})
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: str | None = None) -> Response:
        """End it: each territory keeps the best plan so far; asking twice changes nothing."""
        run = self.get_object()
        stop_planning(by=person_of(request), run=run, at=timezone.now())
        return Response(RunSerializer(run).data, status=202)
