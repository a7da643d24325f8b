"""Stock and what signed records took off it, for programs."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, viewsets
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from planning.models import Stock, StockUse
from planning.services.stock_shown import stock_of, used_beyond
from turnouts.access import Action, require
from turnouts.api.reading import VisibleRows, person_of
from turnouts.api.serializers import named_by


class StockSerializer(serializers.ModelSerializer[Stock]):
    truck = named_by("code")
    depot = named_by("code")
    last_sheet = serializers.CharField(allow_null=True, read_only=True)
    last_quantity = serializers.DecimalField(10, 3, allow_null=True, read_only=True)
    last_at = serializers.DateTimeField(allow_null=True, read_only=True)

    class Meta:
        model = Stock
        fields = [
            "id",
            "truck",
            "depot",
            "material",
            "quantity",
            "unit",
            "lead_days",
            "last_sheet",
            "last_quantity",
            "last_at",
        ]


class StockViewSet(viewsets.ReadOnlyModelViewSet[Stock]):
    """What lies on trucks and in depots, with what a record took last."""

    queryset = Stock.objects.none()
    serializer_class = StockSerializer
    filterset_fields = ["truck__code", "depot__code", "material"]

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(request.user, Action.PLAN)

    def get_queryset(self) -> Any:
        if getattr(self, "swagger_fake_view", False):  # the schema is made without a person
            return Stock.objects.none()
        return stock_of(person_of(self.request))


class StockUseSerializer(serializers.ModelSerializer[StockUse]):
    sheet = serializers.CharField(source="record.sheet.number")
    record = serializers.IntegerField(source="record.serial")
    truck = named_by("code")
    depot = named_by("code")

    class Meta:
        model = StockUse
        fields = [
            "id",
            "sheet",
            "record",
            "material",
            "unit",
            "truck",
            "depot",
            "quantity",
            "left",
            "at",
        ]


class StockUseViewSet(VisibleRows):
    """Every use that signed records wrote; with neither truck nor depot it was beyond the stock."""

    queryset = StockUse.objects.select_related("record__sheet", "truck", "depot").defer(
        "record__content", "record__sheet__content"
    )
    serializer_class = StockUseSerializer
    action_needed = Action.PLAN
    filterset_fields = ["record__sheet__number", "material", "truck__code", "depot__code"]


class BeyondSerializer(serializers.Serializer[Any]):
    sheet = serializers.CharField()
    turnout = serializers.CharField()
    material = serializers.CharField()
    quantity = serializers.DecimalField(10, 3)
    unit = serializers.CharField()
    at = serializers.DateTimeField()


class BeyondView(APIView):
    """What was used beyond the stock in the last weeks, to be counted."""

    @extend_schema(responses=BeyondSerializer(many=True))
    def get(self, request: Request) -> Response:
        """The latest first."""
        person = person_of(request)
        require(person, Action.PLAN)
        return Response(BeyondSerializer(used_beyond(person, timezone.now()), many=True).data)
