"""Endpoints of inventory and history."""

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from turnouts.access import Action, require
from turnouts.api import serializers
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import VisibleRows
from turnouts.api.reports import NewInspectionSerializer, keep_report
from turnouts.api.why import as_answer
from turnouts.api.writing import (
    NewPhotographSerializer,
    TurnoutChangeSerializer,
    change_turnout,
)
from turnouts.models import Component, Defect, Inspection, Line, Turnout
from turnouts.services.component_file import component_file, with_history
from turnouts.services.photographs import add_photograph


class LineViewSet(VisibleRows):
    queryset = Line.objects.select_related("territory")
    serializer_class = serializers.LineSerializer
    lookup_field = "code"


class TurnoutViewSet(VisibleRows):
    queryset = Turnout.objects.with_place().prefetch_related("traffic")
    serializer_class = serializers.TurnoutSerializer
    lookup_field = "code"
    filterset_fields = ["track__line__code", "frog_number"]

    @extend_schema(request=TurnoutChangeSerializer, responses=serializers.TurnoutSerializer)
    def partial_update(self, request: Request, code: str) -> Response:
        """Change facts of a turnout; ``version`` is the one that was read, else 409."""
        given = TurnoutChangeSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        row = change_turnout(request.user, self.get_object(), given.validated_data)  # type: ignore[arg-type]
        return Response(self.get_serializer(row).data)


class ComponentViewSet(VisibleRows):
    queryset = Component.objects.prefetch_related("installations__turnout", "shop_visits")
    serializer_class = serializers.ComponentSerializer
    lookup_field = "serial"
    filterset_fields = ["kind", "design", "steel"]

    @extend_schema(responses=OpenApiTypes.OBJECT)
    @action(detail=True)
    def why(self, request: Request, serial: str) -> Response:
        """Wear, recurrence and hints at causes as of today; 400 where no tonnage is known."""
        visible_rows = self.get_queryset()
        row = get_object_or_404(with_history(visible_rows), serial=serial)
        return Response(as_answer(component_file(row, timezone.localdate())))


class InspectionViewSet(VisibleRows):
    queryset = Inspection.objects.select_related("turnout", "inspector").prefetch_related(
        "measurements__component", "measurements__instrument"
    )
    serializer_class = serializers.InspectionSerializer
    lookup_field = "reference"
    filterset_fields = ["turnout__code", "kind"]

    @extend_schema(
        request=NewInspectionSerializer,
        responses={201: serializers.InspectionSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def create(self, request: Request) -> Response:
        """Report an inspection with its readings and defects: all of it or nothing."""
        require(request.user, Action.REPORT)  # type: ignore[arg-type]
        given = NewInspectionSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        row = keep_report(request.user, given.validated_data)  # type: ignore[arg-type]
        return Response(self.get_serializer(row).data, status=201)


class DefectViewSet(VisibleRows):
    queryset = Defect.objects.select_related("turnout", "component", "inspection").prefetch_related(
        "steps__by", "photographs"
    )
    serializer_class = serializers.DefectSerializer
    lookup_field = "reference"
    filterset_fields = ["state", "kind", "zone", "turnout__code", "component__serial"]

    @extend_schema(
        request={"multipart/form-data": NewPhotographSerializer},
        responses={201: serializers.PhotographSerializer},
        parameters=[KEY_PARAMETER],
    )
    @action(detail=True, methods=["post"], parser_classes=[MultiPartParser])
    @once
    def photographs(self, request: Request, reference: str) -> Response:
        """Add a photograph; place and time are taken out of the file."""
        defect = self.get_object()
        require(request.user, Action.REPORT, defect.turnout.territory)  # type: ignore[arg-type]
        given = NewPhotographSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        row = add_photograph(
            by=request.user,  # type: ignore[arg-type]
            defect=defect,
            upload=given.validated_data["picture"],
            caption=given.validated_data["caption"],
        )
        return Response(serializers.PhotographSerializer(row).data, status=201)
