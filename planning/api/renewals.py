"""Certificates that run out soon, for programs."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from planning.services.renewals import renewals_due
from turnouts.access import Action, require
from turnouts.api.reading import person_of


class RenewalDueSerializer(serializers.Serializer[Any]):
    person = serializers.CharField()
    crew = serializers.CharField()
    procedure = serializers.CharField()
    expires_on = serializers.DateField()
    days = serializers.IntegerField(help_text="Below 0: it has run out.")


class RenewalsDueView(APIView):
    """Certificates of the crews one plans for that run out within 60 days, or have."""

    @extend_schema(responses=RenewalDueSerializer(many=True))
    def get(self, request: Request) -> Response:
        """As of today, the earliest first."""
        person = person_of(request)
        require(person, Action.PLAN)
        due = renewals_due(person, timezone.localdate())
        return Response(RenewalDueSerializer(due, many=True).data)
