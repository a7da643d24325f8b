"""A job on another day, for programs: the same answer as the page's sliders."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from repairs.models import RepairJob
from repairs.services.try_out import QUENCHES, Day, try_out, usual_day
from turnouts.access import visible
from turnouts.api.reading import person_of


class DaySerializer(serializers.Serializer[Any]):
    """The day asked for; what is left out is as on an ordinary day."""

    air_degc = serializers.FloatField(required=False, min_value=-40, max_value=50)
    wind_m_per_s = serializers.FloatField(required=False, min_value=0, max_value=25)
    available_min = serializers.FloatField(required=False, min_value=1, max_value=1440)
    current_a = serializers.FloatField(required=False, min_value=1, max_value=1000)
    quench = serializers.ChoiceField(required=False, choices=list(QUENCHES))


class TriedOutSerializer(serializers.Serializer[Any]):
    """What the job takes on that day: chance, times, waits, and the estimate whole."""

    chance_in_time = serializers.FloatField()
    p50_min = serializers.FloatField()
    p80_min = serializers.FloatField()
    p95_min = serializers.FloatField()
    wait_min = serializers.FloatField()
    filler_kg = serializers.FloatField()
    currents_a = serializers.ListField(
        child=serializers.FloatField(),
        allow_null=True,
        help_text="Least and most that is forecast.",
    )
    detail = serializers.DictField(help_text="The estimate, as one that is kept.")


class TryOutView(APIView):
    """A repair job under other air, wind, current, quench or track time. Nothing is kept."""

    @extend_schema(parameters=[DaySerializer], responses=TriedOutSerializer)
    def get(self, request: Request, reference: str) -> Response:
        """What the job takes on the day asked for."""
        rows = visible(person_of(request), RepairJob.objects.with_place())
        row = get_object_or_404(rows, reference=reference)
        given = DaySerializer(data=request.query_params)
        given.is_valid(raise_exception=True)
        on = timezone.localdate()
        usual = usual_day(row, on)
        asked = {name: getattr(usual, name) for name in Day.__dataclass_fields__}
        tried = try_out(row, Day(**(asked | given.validated_data)), on)
        answer = tried.answer
        kept = ("chance_in_time", "p50_min", "p80_min", "p95_min", "wait_min", "filler_kg")
        return Response(
            {name: getattr(answer, name) for name in kept}
            | {"currents_a": tried.currents_a, "detail": answer.as_dict()}
        )
