"""The jobs under way, for programs."""

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from repairs.services.field_running import running_for
from turnouts.access import Action, require
from turnouts.api.reading import person_of


class ToldSerializer(serializers.Serializer[Any]):
    person = serializers.CharField(source="person.username")
    crossing = serializers.IntegerField()
    chance = serializers.FloatField()
    made_at = serializers.DateTimeField()
    sent_at = serializers.DateTimeField(allow_null=True)
    fault = serializers.CharField()


class RunningJobSerializer(serializers.Serializer[Any]):
    sheet = serializers.CharField(source="sheet.number")
    job = serializers.CharField(source="sheet.job.reference")
    turnout = serializers.CharField(source="sheet.job.turnout.code")
    crew = serializers.CharField(source="sheet.crew")
    chance = serializers.FloatField(source="clock.chance")
    set_chance = serializers.FloatField(source="clock.set_chance")
    under = serializers.BooleanField(source="clock.under")
    advice = serializers.CharField(source="clock.advice")
    hand_back_at = serializers.DateTimeField(source="clock.hand_back_at")
    expected_end = serializers.DateTimeField(source="clock.expected_end")
    doing = serializers.CharField()
    doing_since = serializers.DateTimeField(allow_null=True)
    track = serializers.CharField(source="state.track.value")
    track_words = serializers.CharField(source="state.track_words")
    heard_at = serializers.DateTimeField()
    told = ToldSerializer(many=True)


class RunningJobsSerializer(serializers.Serializer[Any]):
    running = RunningJobSerializer(many=True)
    unheard = serializers.ListField(child=serializers.CharField())
    unsigned = serializers.ListField(child=serializers.CharField())


class RunningJobsView(APIView):
    """Jobs under way in one's territories, those in danger first; unheard and unsigned sheets."""

    @extend_schema(responses=RunningJobsSerializer)
    def get(self, request: Request) -> Response:
        """As the office knows it now; a job without signal may be further."""
        person = person_of(request)
        require(person, Action.LET_START)
        found = running_for(person, timezone.now())
        answer = {
            "running": found.running,
            "unheard": [sheet.number for sheet in found.unheard],
            "unsigned": [one.sheet.number for one in found.unsigned],
        }
        return Response(RunningJobsSerializer(answer).data)
