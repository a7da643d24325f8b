"""Endpoints of decisions, repair jobs, estimates and job sheets; and the starts of long runs."""

from datetime import date
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer

from repairs.api import serializers
from repairs.api.filters import DecisionFilter
from repairs.api.overrules import Overruling, put_holds
from repairs.models import Decision, Estimate, JobSheet, RepairJob
from repairs.paper.sheet import paper_for
from repairs.services.jobs import reestimate_job
from repairs.services.queue import request_jobs, request_triage
from repairs.services.triage import confirm_decision, triage_defect
from repairs.welding.refusals import WeldingRefusal
from turnouts.access import Action, require, visible
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import VisibleRows, person_of
from turnouts.api.serializers import RunSerializer
from turnouts.models import Defect, LongRun
from turnouts.services.errors import Refused


class _ShortInLists(VisibleRows):
    """A list is short; the record has everything."""

    list_serializer_class: type[BaseSerializer[Any]]

    def get_serializer_class(self) -> type[BaseSerializer[Any]]:
        return (
            self.list_serializer_class if self.action == "list" else super().get_serializer_class()
        )


def _started(run: LongRun) -> Response:
    return Response(RunSerializer(run).data, status=202)


class DecisionViewSet(Overruling, _ShortInLists):
    """What was decided of each defect; those that were replaced are kept."""

    queryset = Decision.objects.select_related("defect__turnout__track__line__territory")
    serializer_class = serializers.DecisionSerializer
    list_serializer_class = serializers.DecisionInListSerializer
    filterset_class = DecisionFilter

    def get_queryset(self) -> Any:
        rows = super().get_queryset()
        return (
            rows.defer("detail")
            if self.action == "list"
            else rows.select_related("confirmation__by").prefetch_related("overrules__by")
        )

    @extend_schema(
        request=None, responses=serializers.DecisionSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=False, methods=["post"], url_path="judge/(?P<reference>[^/]+)")
    @once
    def judge(self, request: Request, reference: str) -> Response:
        """Judge one defect by the rules and readings of today."""
        rows = visible(request.user, Defect.objects.with_place())  # type: ignore[arg-type]
        made = triage_defect(
            by=request.user,  # type: ignore[arg-type]
            defect=get_object_or_404(rows, reference=reference),
            on=_today(),
            at=timezone.now(),
        )
        put_holds([made])
        return Response(serializers.DecisionSerializer(made).data)

    @extend_schema(request=serializers.RunStartSerializer, responses={202: RunSerializer})
    @action(detail=False, methods=["post"], url_path="judge-all")
    def judge_all(self, request: Request) -> Response:
        """Queue the judging of every open defect; the run tells how far it is."""
        require(request.user, Action.TRIAGE)  # type: ignore[arg-type]
        return _started(request_triage(by=request.user, on=_today(), request_key=_key(request)))  # type: ignore[arg-type]

    @extend_schema(
        request=serializers.ConfirmSerializer,
        responses={201: serializers.ConfirmationSerializer},
        parameters=[KEY_PARAMETER],
    )
    @action(detail=True, methods=["post"])
    @once
    def confirm(self, request: Request, pk: str) -> Response:
        """Put your name to a current decision, as one qualified to."""
        given = serializers.ConfirmSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        kept = confirm_decision(
            by=request.user,  # type: ignore[arg-type]
            decision=self.get_object(),
            at=timezone.now(),
            note=given.validated_data["note"],
        )
        return Response(serializers.ConfirmationSerializer(kept).data, status=201)


class JobViewSet(VisibleRows):
    """Repair jobs with their estimates in short."""

    queryset = RepairJob.objects.with_place().prefetch_related("treats__defect", "estimates")
    serializer_class = serializers.JobSerializer
    lookup_field = "reference"
    filterset_fields = ["state", "disposition", "turnout__code", "component__serial"]

    @extend_schema(request=serializers.RunStartSerializer, responses={202: RunSerializer})
    @action(detail=False, methods=["post"])
    def make(self, request: Request) -> Response:
        """Queue the making of jobs from the decisions that call for them."""
        require(request.user, Action.ESTIMATE)  # type: ignore[arg-type]
        return _started(request_jobs(by=request.user, on=_today(), request_key=_key(request)))  # type: ignore[arg-type]

    @extend_schema(
        request=None, responses={201: serializers.EstimateSerializer}, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    @once
    def estimate(self, request: Request, reference: str) -> Response:
        """Work the job out anew; the earlier estimate is kept."""
        try:
            made = reestimate_job(
                by=request.user,  # type: ignore[arg-type]
                job=self.get_object(),
                on=_today(),
                at=timezone.now(),
            )
        except WeldingRefusal as refusal:
            raise Refused(str(refusal)) from refusal
        return Response(serializers.EstimateSerializer(made).data, status=201)


class EstimateViewSet(_ShortInLists):
    """Every estimate ever made, the latest first."""

    queryset = Estimate.objects.select_related("job")
    serializer_class = serializers.EstimateSerializer
    list_serializer_class = serializers.EstimateInJobSerializer
    filterset_fields = ["job__reference", "current"]


class JobSheetViewSet(_ShortInLists):
    """Job sheets as they were issued."""

    queryset = JobSheet.objects.select_related("job__turnout").prefetch_related("people")
    serializer_class = serializers.JobSheetSerializer
    list_serializer_class = serializers.JobSheetInListSerializer
    lookup_field = "number"
    action_needed = Action.SEE_SHEETS
    filterset_fields = ["job__reference", "people__username"]

    @extend_schema(responses={(200, "application/pdf"): OpenApiTypes.BINARY})
    @action(detail=True)
    def paper(self, request: Request, number: str) -> HttpResponse:
        """The sheet as PDF."""
        row = self.get_object()
        address = request.build_absolute_uri(reverse("job-sheet", args=[row.number]))
        printed = paper_for(row, address, person_of(request).units)
        answer = HttpResponse(printed, content_type="application/pdf")
        answer["Content-Disposition"] = f'attachment; filename="{row.number}.pdf"'
        return answer


def _key(request: Request) -> str:
    """The sender's key, kept apart from those of other people."""
    given = serializers.RunStartSerializer(data=request.data)
    given.is_valid(raise_exception=True)
    return f"{request.user.pk} {given.validated_data['request_key']}"


def _today() -> date:
    return timezone.localdate()
