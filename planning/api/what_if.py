"""Questions about a plan: asked here, followed as a run, made a draft where that is possible."""

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers as fields
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from planning.api.serializers import PlanSerializer
from planning.models import WeekPlan
from planning.services.stopping import WHAT_IF, stop_planning
from planning.services.what_if import draft_what_if, request_what_if
from turnouts.access import Action, require, visible
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.serializers import RunSerializer
from turnouts.models import LongRun
from turnouts.services.runs import with_progress

KINDS = (
    "add_window", "move_window", "cancel_window", "drop_crew", "late_truck", "more_welders",
    "fewer_welders",
)  # fmt: skip


class WeekQuestionSerializer(fields.Serializer[None]):
    """One change to the week of a plan. Which fields count hangs on the kind:

    ``add_window``: track (``LINE, name``), from_milepost, to_milepost, days (one), begins, ends,
    gangs; ``move_window``: window, begin_by, end_by (minutes, negative for earlier);
    ``cancel_window``: window; ``drop_crew``: crew, days; ``late_truck``: truck, days (one), hours;
    ``more_welders``: crew, procedure, days; ``fewer_welders``: person, days. Days count from 0 for
    Monday.
    """

    plan = fields.IntegerField(help_text="The id of the plan the question is about.")
    request_key = fields.CharField(max_length=80)
    kind = fields.CharField(max_length=20, help_text=f"One of {', '.join(KINDS)}.")
    window = fields.CharField(required=False, max_length=40)
    track = fields.CharField(required=False, max_length=80)
    from_milepost = fields.DecimalField(required=False, max_digits=8, decimal_places=3)
    to_milepost = fields.DecimalField(required=False, max_digits=8, decimal_places=3)
    begins = fields.CharField(required=False, max_length=8, help_text="A time of day as 23:30.")
    ends = fields.CharField(required=False, max_length=8)
    gangs = fields.IntegerField(required=False, min_value=1)
    begin_by = fields.IntegerField(required=False)
    end_by = fields.IntegerField(required=False)
    crew = fields.CharField(required=False, max_length=16)
    truck = fields.CharField(required=False, max_length=16)
    hours = fields.DecimalField(required=False, max_digits=5, decimal_places=2)
    procedure = fields.CharField(required=False, max_length=40)
    person = fields.CharField(required=False, max_length=150)
    days = fields.ListField(child=fields.IntegerField(min_value=0, max_value=6), required=False)


class WeekQuestionViewSet(GenericViewSet):  # type: ignore[type-arg]
    """What if: the answer stands in the ``result`` of the run, beside the plan asked about."""

    queryset = LongRun.objects.filter(kind=WHAT_IF)
    serializer_class = WeekQuestionSerializer

    def get_queryset(self) -> QuerySet[LongRun]:
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        plans = visible(person_of(self.request), WeekPlan.objects.all(), Action.PLAN)
        return self.queryset.filter(asked__plan__in=list(plans.values_list("pk", flat=True)))

    @extend_schema(responses={202: RunSerializer}, parameters=[KEY_PARAMETER])
    @once
    def create(self, request: Request) -> Response:
        """Ask; 400 with a sentence when the question cannot be asked."""
        form = self.get_serializer(data=request.data)
        form.is_valid(raise_exception=True)
        asked: dict[str, Any] = dict(form.validated_data)
        person = person_of(request)
        require(person, Action.PLAN)
        plans = visible(person, WeekPlan.objects.select_related("territory"), Action.PLAN)
        run, _ = request_what_if(
            by=person,
            plan=get_object_or_404(plans, pk=asked.pop("plan")),
            request_key=asked.pop("request_key"),
            question={n: v if isinstance(v, list) else str(v) for n, v in asked.items()},
            at=timezone.now(),
        )
        return Response(RunSerializer(run).data, status=202)

    @extend_schema(responses=RunSerializer)
    def retrieve(self, request: Request, pk: str | None = None) -> Response:
        """How far the answer is, and the answer."""
        return Response(RunSerializer(with_progress(self.get_object())).data)

    @extend_schema(request=None, responses={202: RunSerializer})
    @action(detail=True, methods=["post"])
    def stop(self, request: Request, pk: str | None = None) -> Response:
        """End the working out with the best plans so far; asking twice changes nothing."""
        run = self.get_object()
        stop_planning(by=person_of(request), run=run, at=timezone.now())
        return Response(RunSerializer(run).data, status=202)

    @extend_schema(request=None, responses={201: PlanSerializer}, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    @once
    def draft(self, request: Request, pk: str | None = None) -> Response:
        """Make the answer a draft; asking twice gives the same one."""
        made = draft_what_if(by=person_of(request), run=self.get_object(), at=timezone.now())
        return Response(PlanSerializer(made).data, status=201)
