"""The turnouts of a territory at a glance; speeds in km/h, exact figures as text."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils.timezone import localdate
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import viewsets
from rest_framework.request import Request
from rest_framework.response import Response

from turnouts.access import Action, require, visible
from turnouts.api.reading import person_of
from turnouts.models import Territory
from turnouts.services.network import Spot, overview_of


class NetworkViewSet(viewsets.ViewSet):
    """What holds, what is due, what comes back and what is warned of, turnout by turnout."""

    lookup_field = "code"
    lookup_value_regex = "[^/]+"

    @extend_schema(
        responses=OpenApiTypes.OBJECT,
        parameters=[OpenApiParameter("code", str, OpenApiParameter.PATH)],
    )
    def retrieve(self, request: Request, code: str) -> Response:
        """The lines of one territory, by its code."""
        reader = person_of(request)
        require(reader, Action.SEE)
        territory = get_object_or_404(visible(reader, Territory.objects.all()), code=code)
        return Response(
            [
                {
                    "line": one.line.code,
                    "mileposts": [
                        {"reading": str(reading), "chainage_m": str(chainage_m)}
                        for reading, chainage_m in one.posts
                    ],
                    "turnouts": [_said(spot) for spot in one.spots],
                }
                for one in overview_of(reader, territory, localdate())
            ]
        )


def _said(spot: Spot) -> dict[str, Any]:
    return {
        "turnout": spot.turnout.code,
        "track": spot.turnout.track.name,
        "milepost": str(spot.turnout.milepost),
        "chainage_m": str(spot.turnout.chainage_m),
        "open_defects": spot.open_defects,
        "traffic": spot.held.traffic,
        "speed_kmh": None if spot.held.speed_kmh is None else str(spot.held.speed_kmh),
        "repair_due": spot.held.repair_due,
        "inspection_due": spot.held.inspection_due,
        "inspect_now": spot.held.inspect_now,
        "due_soon": spot.due_soon,
        "repeat_offenders": spot.repeat_offenders,
        "early_warnings": spot.warnings,
    }
