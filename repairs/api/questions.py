"""Questions about a defect that keep nothing: what if a value were another, and what it costs."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from repairs.models import Decision
from repairs.services.costs import (
    Assumed,
    LifeCosts,
    SlowOrderCost,
    as_held,
    life_costs,
    slow_order_cost,
)
from repairs.services.plain import as_json
from repairs.services.standing import standing_of
from repairs.services.what_if import Facts, changes_of, facts_of, what_if
from repairs.triage.bands import Band, Turned
from repairs.triage.decision import Decision as Judged
from turnouts.access import Action, require, visible
from turnouts.analysis.units import Dimension, UnitError, parse
from turnouts.api.reading import person_of
from turnouts.models import Defect
from turnouts.services.errors import Refused


class WhatIfSerializer(serializers.Serializer[Any]):
    of = serializers.CharField(
        max_length=40, help_text="A quantity, or defect_depth or defect_length; GET names them."
    )
    value = serializers.CharField(max_length=40, help_text="Like 1 3/8 in, or 34.925 mm.")
    unit = serializers.ChoiceField(["mm", "in"], default="mm", help_text="Where value has none.")


class WhatIfView(APIView):
    """What the rules would say if one value were another. Nothing is kept."""

    @extend_schema(responses=OpenApiTypes.OBJECT)
    def get(self, request: Request, reference: str) -> Response:
        """The values that can be asked about, and which measurement would change the answer."""
        facts = _facts(request, reference)
        changes = [
            {**as_json(one.point), "uncertainty_mm": str(one.uncertainty), "rules": one.by}
            for one in changes_of(facts)
        ]
        return Response({"values": [_value(one) for one in facts.values], "changes": changes})

    @extend_schema(request=WhatIfSerializer, responses=OpenApiTypes.OBJECT)
    def post(self, request: Request, reference: str) -> Response:
        """The answer at a value, the answer as things are, and all answers along that value."""
        facts = _facts(request, reference)
        given = WhatIfSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        asked = what_if(facts, given.validated_data["of"], _mm(given.validated_data))
        return Response(
            {
                "of": _value(asked.of),
                "value_mm": str(asked.mm),
                "same_as_now": asked.same,
                "then": _answer(asked.then),
                "now": _answer(asked.now),
                "bands": [_band(one) for one in asked.bands],
            }
        )


class CostsView(APIView):
    """What a defect costs each day, and over the life of each way of repairing it."""

    @extend_schema(responses=OpenApiTypes.OBJECT)
    def get(self, request: Request, reference: str) -> Response:
        """Money in ``currency``, each price with the mark of where it comes from.

        Reckoned for what holds: an engineer's word where there is one goes before the rules.
        """
        facts = _facts(request, reference)
        today = timezone.localdate()
        decided = facts.judged(facts.case)
        now = Decision.objects.current().filter(defect=facts.defect).first()
        held = as_held(decided, standing_of(now) if now else None)
        slow = slow_order_cost(facts.defect, held, today)
        return Response(
            {
                "currency": settings.CURRENCY,
                "reckoned_for": _said(held),
                "by_the_rules": _said(decided),
                "slow_order": _slow(slow),
                "life": _life(life_costs(facts, held, today)),
            }
        )


def _facts(request: Request, reference: str) -> Facts:
    person = person_of(request)
    require(person, Action.SEE)
    rows = visible(person, Defect.objects.with_place())
    return facts_of(get_object_or_404(rows, reference=reference), timezone.localdate())


def _mm(given: dict[str, Any]) -> Decimal:
    try:
        return parse(given["value"], given["unit"], Dimension.LENGTH)
    except UnitError as refusal:
        raise Refused(str(refusal)) from refusal


def _value(of: Turned) -> dict[str, Any]:
    return {
        "name": of.name,
        "label": of.label,
        "now_mm": None if of.now is None else str(of.now),
        "uncertainty_mm": str(of.uncertainty),
    }


def _answer(decision: Judged) -> dict[str, Any]:
    return {
        "traffic": as_json(decision.traffic),
        "disposition": decision.disposition.value,
        "due_on": decision.due_on.isoformat(),
        "sentence": decision.sentence,
        "confidence": decision.confidence.value,
        "rule_set": f"{decision.rule_set} {decision.edition}",
    }


def _band(band: Band) -> dict[str, Any]:
    return {
        "from_mm": str(band.low),
        "from_included": not band.low_open,
        "to_mm": None if band.high is None else str(band.high),
        "to_included": band.high is not None and not band.high_open,
        "traffic": as_json(band.traffic),
        "disposition": band.disposition.value,
    }


def _assumed(rows: Sequence[Assumed]) -> list[dict[str, Any]]:
    return [{**as_json(one.row), "source_title": one.source} for one in rows]


def _said(decision: Judged) -> dict[str, Any]:
    return {"traffic": as_json(decision.traffic), "disposition": decision.disposition.value}


def _slow(slow: SlowOrderCost) -> dict[str, Any]:
    return {
        "money_per_day": slow.worth.per_day,
        "reason": slow.worth.reason,
        "trains_per_day": slow.trains_per_day,
        "minutes_per_train": slow.minutes,
        "supposed": slow.supposed,
        "profile": as_json(slow.profile),
        "assumed": _assumed(slow.assumed),
    }


def _life(life: LifeCosts) -> dict[str, Any]:
    return {
        "why_not": life.why_not or None,
        "cost": as_json(life.cost),
        "turning": as_json(life.turning),
        "interest": life.interest,
        "assumed": _assumed(life.assumed),
    }
