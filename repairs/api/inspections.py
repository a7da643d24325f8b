"""Which inspections a turnout is due for, for programs."""

from dataclasses import asdict

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from turnouts.access import Action, require, visible
from turnouts.api.reading import person_of
from turnouts.inspections_wanted import inspections_wanted
from turnouts.models import Turnout


class InspectionsDueView(APIView):
    """The inspections that the rules of the territory ask for, with clause and day."""

    @extend_schema(responses=OpenApiTypes.OBJECT)
    def get(self, request: Request, code: str) -> Response:
        """As of today, overdue first; ``due_on`` empty: before trains run."""
        person = person_of(request)
        require(person, Action.SEE)
        row = get_object_or_404(visible(person, Turnout.objects.with_place()), code=code)
        today = timezone.localdate()
        return Response({"on": today, "due": [asdict(o) for o in inspections_wanted(row, today)]})
