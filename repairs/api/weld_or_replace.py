"""Weld again or replace, for programs: the costs, the decisions, and deciding."""

from dataclasses import asdict
from datetime import date
from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from repairs.models import RenewalChoice
from repairs.services.renewal_choices import Chosen, choices_of, choose_renewal
from repairs.services.weld_or_replace import Costs, weld_or_replace_costs
from turnouts.access import visible
from turnouts.analysis.renewal.ways import Way
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.serializers import CurrencyField, named_by
from turnouts.models import Component
from turnouts.services.component_file import with_history


class WaySerializer(serializers.Serializer[Any]):
    """``welds`` is how many more before it is replaced; costs in ``currency`` per MGT."""

    way = serializers.CharField()
    welds = serializers.IntegerField()
    cost_per_mgt = serializers.FloatField()
    low = serializers.FloatField(help_text="With high holds the cost with 90 %.")
    high = serializers.FloatField()
    chance_cheapest = serializers.FloatField()


class CurvePointSerializer(serializers.Serializer[Any]):
    life_mgt = serializers.FloatField()
    cost_per_mgt = serializers.FloatField()


class RenewalChoiceSerializer(serializers.ModelSerializer[RenewalChoice]):
    by = named_by("username")
    turnout = serializers.SlugRelatedField[Any](slug_field="code", read_only=True)

    class Meta:
        model = RenewalChoice
        exclude = ["component"]


class WeldOrReplaceSerializer(serializers.Serializer[Any]):
    """The ways, cheapest first, and the engineers' decisions, the one that holds first."""

    on = serializers.DateField()
    currency = CurrencyField()
    window_on = serializers.DateField(allow_null=True)
    family_on = serializers.DateField(allow_null=True)
    sentence = serializers.CharField()
    clear = serializers.BooleanField()
    reasons = serializers.ListField(child=serializers.CharField())
    options = WaySerializer(many=True)
    replacing_now_per_mgt = serializers.FloatField()
    break_even_mgt = serializers.FloatField(allow_null=True)
    mean_weld_life_mgt = serializers.FloatField()
    mean_weld_life_90 = serializers.ListField(child=serializers.FloatField())
    chance_weld_pays = serializers.FloatField()
    curve = CurvePointSerializer(many=True)
    choices = RenewalChoiceSerializer(many=True)


class ChosenSerializer(serializers.Serializer[Any]):
    """An engineer's decision. ``seen`` is the id of the decision that holds, null without one."""

    way = serializers.ChoiceField(RenewalChoice.WAYS)
    welds = serializers.IntegerField(min_value=0, max_value=20, required=False, default=0)
    window_on = serializers.DateField(required=False, allow_null=True, default=None)
    reason = serializers.CharField(max_length=500)
    seen = serializers.IntegerField(allow_null=True)


class WeldOrReplaceView(APIView):
    """What welding a component again costs against replacing it, and what was decided."""

    @extend_schema(
        parameters=[OpenApiParameter("window", date, description="Day of the renewal window.")],
        responses=WeldOrReplaceSerializer,
    )
    def get(self, request: Request, serial: str) -> Response:
        """As of today; 400 with the reason where there is nothing to compare."""
        row = self._component(request, serial)
        window = serializers.DateField(allow_null=True).run_validation(
            request.query_params.get("window")
        )
        costs = weld_or_replace_costs(row, timezone.localdate(), window)
        return Response(WeldOrReplaceSerializer(_answer(costs, choices_of(row))).data)

    @extend_schema(
        request=ChosenSerializer,
        responses={201: RenewalChoiceSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def post(self, request: Request, serial: str) -> Response:
        """Decide, as an engineer; 409 where another decision was made since ``seen``."""
        given = ChosenSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        values = given.validated_data
        kept = choose_renewal(
            by=person_of(request),
            component=self._component(request, serial),
            chosen=Chosen(
                Way(values["way"]), values["welds"], values["window_on"], values["reason"]
            ),
            seen=values["seen"],
            on=timezone.localdate(),
            at=timezone.now(),
        )
        return Response(RenewalChoiceSerializer(kept).data, status=201)

    def _component(self, request: Request, serial: str) -> Component:
        rows = visible(person_of(request), with_history(Component.objects.all()))
        return get_object_or_404(rows, serial=serial)


def _answer(costs: Costs, choices: list[RenewalChoice]) -> dict[str, Any]:
    advice = costs.advice
    return {
        "on": costs.on,
        "window_on": costs.window_on,
        "family_on": costs.family_on,
        "sentence": advice.sentence,
        "clear": advice.clear,
        "reasons": [*advice.reasons, *costs.grounds],
        "options": [asdict(option) | {"way": option.way.value} for option in advice.options],
        "replacing_now_per_mgt": advice.steady_cost_per_mgt,
        "break_even_mgt": advice.break_even_mgt,
        "mean_weld_life_mgt": advice.mean_weld_life_mgt,
        "mean_weld_life_90": advice.life_90,
        "chance_weld_pays": advice.chance_weld_pays,
        "curve": [asdict(point) for point in advice.curve],
        "choices": choices,
    }
