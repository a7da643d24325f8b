"""Certificates that run out soon, for programs."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from planning.services.renewals import crew_certificates, renewals_due
from turnouts.access import Action, require
from turnouts.api.reading import person_of


class RenewalDueSerializer(serializers.Serializer[Any]):
    person = serializers.CharField()
    username = serializers.CharField()
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


class HeldSerializer(serializers.Serializer[Any]):
    crew = serializers.CharField()
    person = serializers.CharField()
    username = serializers.CharField()
    procedure = serializers.CharField(help_text="Empty: that person has no certificate.")
    expires_on = serializers.DateField(allow_null=True)
    valid = serializers.BooleanField()
    stands = serializers.CharField(help_text="How it stands today, in words.")


class CrewCertificatesView(APIView):
    """What the members of the crews one plans for hold."""

    @extend_schema(responses=HeldSerializer(many=True))
    def get(self, request: Request) -> Response:
        """As of today, by crew and person."""
        person = person_of(request)
        require(person, Action.PLAN)
        held = crew_certificates(person, timezone.localdate())
        return Response(HeldSerializer(held, many=True).data)
