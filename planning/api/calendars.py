"""The addresses of the crews' calendars, and the stopping of a planning run."""

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from planning.api import serializers
from planning.models import Crew, CrewCalendar
from planning.reading import crews_of
from planning.services.crew_calendars import renew_calendar
from planning.services.stopping import KIND, stop_planning
from turnouts.access import Action, visible
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import VisibleRows, person_of
from turnouts.api.serializers import RunSerializer
from turnouts.models import LongRun, Territory


class CrewCalendarViewSet(VisibleRows):
    """Only of crews the caller is in, or plans for: the address is a secret."""

    queryset = CrewCalendar.objects.select_related("crew__depot__territory")
    serializer_class = serializers.CrewCalendarSerializer
    lookup_field = "crew__code"
    lookup_url_kwarg = "crew"
    action_needed = Action.SEE_SHEETS

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):
            return rows
        return rows.filter(crew__in=crews_of(person_of(self.request)).values("pk"))

    @extend_schema(request=None, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    @once
    def renew(self, request: Request, crew: str | None = None) -> Response:
        """A new address; the old one is dead from now on."""
        row: Crew = self.get_object().crew
        calendar = renew_calendar(by=person_of(request), crew=row, at=timezone.now())
        return Response(self.get_serializer(calendar).data)


class PlanRunViewSet(GenericViewSet):  # type: ignore[type-arg]
    """Planning runs under way; how far each is stands in its run."""

    queryset = LongRun.objects.filter(kind=KIND)
    serializer_class = RunSerializer

    @extend_schema(request=None, responses={202: RunSerializer})
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: str | None = None) -> Response:
        """End the planning with the best plan so far; asking twice changes nothing."""
        run = self.get_object()
        mine = visible(person_of(request), Territory.objects.all())
        get_object_or_404(mine, code=run.asked["territory"])
        stop_planning(by=person_of(request), run=run, at=timezone.now())
        return Response(RunSerializer(run).data, status=202)
