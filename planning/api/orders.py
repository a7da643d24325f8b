"""Earlier-than relations between repairs."""

from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from planning.models import JobOrder
from planning.services.job_orders import drop_order, put_in_order
from repairs.models import RepairJob
from turnouts.access import Action, visible
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import VisibleRows, person_of
from turnouts.api.serializers import named_by


class JobOrderSerializer(serializers.ModelSerializer[JobOrder]):
    first = named_by("reference")
    then = named_by("reference")
    by = named_by("username")

    class Meta:
        model = JobOrder
        fields = ["id", "first", "then", "reason", "by", "at"]


class JobOrderRequestSerializer(serializers.Serializer[JobOrder]):
    first = serializers.CharField(help_text="The reference of the job that is done first.")
    then = serializers.CharField(help_text="The reference of the job that comes after it.")
    reason = serializers.CharField(max_length=200)


class JobOrderViewSet(VisibleRows):
    queryset = JobOrder.objects.select_related("first", "then__turnout__track__line", "by")
    serializer_class = JobOrderSerializer
    filterset_fields = ["first__reference", "then__reference"]
    action_needed = Action.PLAN

    @extend_schema(
        request=JobOrderRequestSerializer,
        responses={201: JobOrderSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def create(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Say that one job comes after another; 400 where they would wait for each other."""
        form = JobOrderRequestSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        asked = form.validated_data
        row = put_in_order(
            by=person_of(request),
            first=get_object_or_404(self._jobs(request), reference=asked["first"]),
            then=get_object_or_404(self._jobs(request), reference=asked["then"]),
            reason=asked["reason"],
            at=timezone.now(),
        )
        return Response(JobOrderSerializer(row).data, status=201)

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """Take the order of two jobs back."""
        drop_order(by=person_of(request), order=self.get_object())
        return Response(status=204)

    def _jobs(self, request: Request) -> QuerySet[RepairJob]:
        return visible(person_of(request), RepairJob.objects.with_place(), Action.PLAN)
