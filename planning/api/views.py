"""Endpoints of track time and plans."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from planning.api import serializers
from planning.api.by_hand import ByHand
from planning.models import WeekPlan, WorkWindow
from planning.services.calendar import Week
from planning.services.plans import request_plan
from planning.services.publish import publish_plan
from turnouts.access import Action, visible
from turnouts.api.reading import VisibleRows, person_of
from turnouts.api.serializers import RunSerializer
from turnouts.models import Territory


class WorkWindowViewSet(VisibleRows):
    queryset = WorkWindow.objects.select_related("track__line")
    serializer_class = serializers.WorkWindowSerializer
    lookup_field = "reference"
    filterset_fields = ["track__line__code", "protection"]
    action_needed = Action.SEE_SHEETS


class PlanViewSet(ByHand, VisibleRows):
    queryset = WeekPlan.objects.select_related("territory", "made_by").prefetch_related(
        *[f"placed__{name}" for name in ("job", "turnout", "crew", "truck", "window", "sheet")],
        "left_out__job",
    )
    serializer_class = serializers.PlanSerializer
    filterset_fields = ["territory__code", "week", "state"]
    action_needed = Action.SEE_SHEETS

    @extend_schema(request=serializers.PlanRequestSerializer, responses={202: RunSerializer})
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Ask for a plan of a week; the answer is the run that makes it."""
        form = serializers.PlanRequestSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        asked = form.validated_data
        person = person_of(request)
        mine = visible(person, Territory.objects.all())
        run, _ = request_plan(
            by=person,
            territory=get_object_or_404(mine, code=asked["territory"]),
            week=Week(asked["week"]),
            request_key=asked["request_key"],
            base=get_object_or_404(self.get_queryset(), pk=asked["base"])
            if "base" in asked
            else None,
            keep=asked["keep"],
        )
        return Response(RunSerializer(run).data, status=202)

    @extend_schema(request=serializers.PublishSerializer, responses=serializers.PlanSerializer)
    @action(detail=True, methods=["post"])
    def publish(self, request: Request, pk: str | None = None) -> Response:
        """Publish a draft: issues its job sheets and supersedes the plan that stood."""
        form = serializers.PublishSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        plan = publish_plan(
            by=person_of(request),
            plan=self.get_object(),
            expected_version=form.validated_data["version"],
            at=timezone.now(),
        )
        return Response(self.get_serializer(self.get_queryset().get(pk=plan.pk)).data)
