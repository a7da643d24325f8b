"""Repeat offenders and early warnings for programs, as the last night worked them out."""

from typing import Any

from django.db.models import Max, QuerySet
from rest_framework import serializers, viewsets

from turnouts.access import Action, require
from turnouts.api.reading import VisibleRows
from turnouts.models import ComponentRank, EarlyWarning, ForecastRecord, WearForecast


class RepeatOffenderSerializer(serializers.ModelSerializer[ComponentRank]):
    component = serializers.SlugRelatedField[Any](slug_field="serial", read_only=True)
    turnout = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)

    class Meta:
        model = ComponentRank
        exclude = ["id"]


class EarlyWarningSerializer(serializers.ModelSerializer[EarlyWarning]):
    """A forecast; lengths in mm, ``next_look_on`` may have passed already."""

    component = serializers.SlugRelatedField[Any](slug_field="serial", read_only=True)
    turnout = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    quantity = serializers.CharField(read_only=True)

    class Meta:
        model = EarlyWarning
        exclude = ["id"]


class RepeatOffenderViewSet(VisibleRows):
    """Components against their like, the surest first; people are never ranked."""

    queryset = ComponentRank.objects.select_related("component", "turnout")
    serializer_class = RepeatOffenderSerializer
    lookup_field = "component__serial"
    filterset_fields = ["repeat_offender", "turnout__track__line__territory__code"]


class EarlyWarningViewSet(VisibleRows):
    """Every forecast that was kept; ``current=true`` gives those that the last night stood by."""

    queryset = EarlyWarning.objects.select_related("component", "turnout")
    serializer_class = EarlyWarningSerializer
    lookup_field = "pk"
    lookup_value_regex = "[0-9]+"
    filterset_fields = ["component__serial", "quantity", "made_on"]

    def get_queryset(self) -> QuerySet[Any]:
        rows = super().get_queryset()
        if self.request.query_params.get("current") == "true":
            last = EarlyWarning.objects.aggregate(last=Max("stands_on"))["last"]
            rows = rows.filter(stands_on=last)
        return rows


class WearForecastSerializer(serializers.ModelSerializer[WearForecast]):
    """A line that was foreseen, and the reading that met it; lengths in mm, tonnage in MGT.

    The level after t MGT since ``began_mgt`` is ``level + rate x t``.
    """

    component = serializers.SlugRelatedField[Any](slug_field="serial", read_only=True)
    turnout = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)
    quantity = serializers.CharField(read_only=True)
    state = serializers.CharField(read_only=True, help_text="open, met or reset")

    class Meta:
        model = WearForecast
        exclude = ["id"]


class WearForecastViewSet(VisibleRows):
    """Every forecast that was kept; ``state=met`` gives those that a reading has met."""

    queryset = WearForecast.objects.select_related("component", "turnout")
    serializer_class = WearForecastSerializer
    lookup_field = "pk"
    lookup_value_regex = "[0-9]+"
    filterset_fields = ["component__serial", "quantity", "state", "made_on"]


class ForecastRecordSerializer(serializers.ModelSerializer[ForecastRecord]):
    """How the forecasts of a quantity did, of all where it is blank."""

    quantity = serializers.CharField(read_only=True)

    class Meta:
        model = ForecastRecord
        exclude = ["id"]


class ForecastRecordViewSet(viewsets.ReadOnlyModelViewSet[ForecastRecord]):
    """Coverage of the intervals and truth of the chances, over the whole railway."""

    queryset = ForecastRecord.objects.all()
    serializer_class = ForecastRecordSerializer
    pagination_class = None

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(request.user, Action.SEE)
