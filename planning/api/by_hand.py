"""Endpoints that change a plan by hand, look at the places there are, and compare plans."""

from collections.abc import Callable
from typing import Any, Protocol

from django.db.models import QuerySet
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers as fields
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from planning.api import serializers
from planning.comparing import compare
from planning.models import WeekPlan
from planning.paper.answers import paper_answer
from planning.services.hand_edits import Wanted, lock_by_hand, place_by_hand, take_out_by_hand
from planning.services.load_outs import load_out_kept
from planning.services.places import places_for
from turnouts.access import Action, require
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of

JOB = OpenApiParameter("job", str, required=True, description="The reference of the job.")
TRUCK = OpenApiParameter("truck", str, description="The code of one truck; without it, all.")
DAY = OpenApiParameter("day", str, description="One day as 2026-11-30; without it, every day.")
OLD = OpenApiParameter("with", int, required=True, description="The id of the plan beside it.")


class _Plans(Protocol):
    """What these endpoints need of the viewset they belong to."""

    def get_object(self) -> WeekPlan: ...
    def get_queryset(self) -> QuerySet[WeekPlan]: ...
    def get_serializer(self, *args: Any, **kwargs: Any) -> Any: ...


def _read(form: fields.Serializer[Any]) -> dict[str, Any]:
    form.is_valid(raise_exception=True)
    return dict(form.validated_data)


def _changed(
    view: _Plans, request: Request, asked: dict[str, Any], change: Callable[..., WeekPlan]
) -> Response:
    """The plan that came of a change, whole."""
    version = asked.pop("version")
    made = change(
        by=person_of(request),
        plan=view.get_object(),
        expected_version=version,
        at=timezone.now(),
        **asked,
    )
    return Response(view.get_serializer(view.get_queryset().get(pk=made.pk)).data)


class ByHand:
    """Mixed into the plans' viewset."""

    @extend_schema(
        request=serializers.PlaceByHandSerializer,
        responses=serializers.PlanSerializer,
        parameters=[KEY_PARAMETER],
    )
    @action(detail=True, methods=["post"])
    @once
    def place(self: _Plans, request: Request, pk: str | None = None) -> Response:
        """Move a job, or put a left-out one in: a new draft, or 400 with what would break."""
        asked = _read(serializers.PlaceByHandSerializer(data=request.data))
        wanted = Wanted(asked.pop("crew"), asked.pop("window"), asked.pop("start"))
        return _changed(self, request, asked | {"wanted": wanted}, place_by_hand)

    @extend_schema(
        request=serializers.HandEditSerializer,
        responses=serializers.PlanSerializer,
        parameters=[KEY_PARAMETER],
    )
    @action(detail=True, methods=["post"], url_path="take-out")
    @once
    def take_out(self: _Plans, request: Request, pk: str | None = None) -> Response:
        """Take a job out: a new draft in which it is left out."""
        asked = _read(serializers.HandEditSerializer(data=request.data))
        return _changed(self, request, asked, take_out_by_hand)

    @extend_schema(
        request=serializers.LockSerializer,
        responses=serializers.PlanSerializer,
        parameters=[KEY_PARAMETER],
    )
    @action(detail=True, methods=["post"])
    @once
    def lock(self: _Plans, request: Request, pk: str | None = None) -> Response:
        """Lock a job where it is, or free it."""
        return _changed(
            self, request, _read(serializers.LockSerializer(data=request.data)), lock_by_hand
        )

    @extend_schema(parameters=[JOB], responses=serializers.PlacesSerializer)
    @action(detail=True, methods=["get"], pagination_class=None, filter_backends=[])
    def places(self: _Plans, request: Request, pk: str | None = None) -> Response:
        """Where a job could go without breaking a rule, and why not elsewhere."""
        plan = self.get_object()
        require(person_of(request), Action.PLAN, plan.territory)
        try:
            found = places_for(plan, request.query_params.get("job", ""), timezone.now())
        except KeyError:
            raise Http404 from None
        return Response(serializers.PlacesSerializer(found).data)

    @extend_schema(parameters=[OLD], responses=serializers.ComparisonSerializer)
    @action(detail=True, methods=["get"], pagination_class=None, filter_backends=[])
    def compare(self: _Plans, request: Request, pk: str | None = None) -> Response:
        """This plan beside an older one of the same week."""
        new, number = self.get_object(), request.query_params.get("with", "")
        same_week = self.get_queryset().filter(territory=new.territory, week=new.week)
        if not number.isdecimal():
            raise fields.ValidationError({"with": "Give the id of another plan of this week."})
        old = get_object_or_404(same_week, pk=int(number))
        return Response(serializers.ComparisonSerializer(compare(old, new)).data)

    @extend_schema(responses={200: list[dict[str, Any]]})
    @action(detail=True, methods=["get"], url_path="load-out", pagination_class=None)
    def load_out(self: _Plans, request: Request, pk: str | None = None) -> Response:
        """What each truck loads, day by day; of a draft as it would be."""
        return Response(load_out_kept(self.get_object()))

    @extend_schema(
        parameters=[TRUCK, DAY], responses={(200, "application/pdf"): OpenApiTypes.BINARY}
    )
    @action(detail=True, methods=["get"], url_path="load-out/paper", pagination_class=None)
    def load_out_paper(self: _Plans, request: Request, pk: str | None = None) -> HttpResponse:
        """The same as PDF, one page a truck and day."""
        asked = request.query_params
        return paper_answer(
            self.get_object(), person_of(request), asked.get("truck", ""), asked.get("day", "")
        )
