"""Reading endpoints of inventory and history, and the progress of long runs."""

from typing import Any

from django.db.models import QuerySet
from rest_framework import viewsets

from turnouts.api import serializers
from turnouts.api.reading import VisibleRows
from turnouts.models import Component, Defect, Inspection, Line, LongRun, Turnout


class LineViewSet(VisibleRows):
    queryset = Line.objects.select_related("territory")
    serializer_class = serializers.LineSerializer
    lookup_field = "code"


class TurnoutViewSet(VisibleRows):
    queryset = Turnout.objects.with_place().prefetch_related("traffic")
    serializer_class = serializers.TurnoutSerializer
    lookup_field = "code"
    filterset_fields = ["track__line__code", "frog_number"]


class ComponentViewSet(VisibleRows):
    queryset = Component.objects.prefetch_related("installations__turnout", "shop_visits")
    serializer_class = serializers.ComponentSerializer
    lookup_field = "serial"
    filterset_fields = ["kind", "design", "steel"]


class InspectionViewSet(VisibleRows):
    queryset = Inspection.objects.select_related("turnout", "inspector").prefetch_related(
        "measurements__component", "measurements__instrument"
    )
    serializer_class = serializers.InspectionSerializer
    lookup_field = "reference"
    filterset_fields = ["turnout__code", "kind"]


class DefectViewSet(VisibleRows):
    queryset = Defect.objects.select_related("turnout", "component", "inspection").prefetch_related(
        "steps__by"
    )
    serializer_class = serializers.DefectSerializer
    lookup_field = "reference"
    filterset_fields = ["state", "kind", "zone", "turnout__code", "component__serial"]


class RunViewSet(viewsets.ReadOnlyModelViewSet[LongRun]):
    """The person's own long runs."""

    queryset = LongRun.objects.all()
    serializer_class = serializers.RunSerializer

    def get_queryset(self) -> QuerySet[Any]:
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return self.queryset.filter(requested_by=self.request.user.pk)
