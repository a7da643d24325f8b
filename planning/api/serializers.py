"""Track time and plans as JSON. Times carry their offset; chances are between 0 and 1."""

from rest_framework import serializers

from planning.models import LeftOut, PlannedJob, WeekPlan, WorkWindow
from turnouts.api.serializers import CurrencyField, named_by


class WorkWindowSerializer(serializers.ModelSerializer[WorkWindow]):
    line = serializers.CharField(source="track.line.code", read_only=True)
    track = serializers.CharField(source="track.name", read_only=True)

    class Meta:
        model = WorkWindow
        fields = [
            "reference",
            "line",
            "track",
            "from_milepost",
            "to_milepost",
            "from_m",
            "to_m",
            "starts_at",
            "ends_at",
            "protection",
            "gangs",
            "version",
        ]


class PlannedJobSerializer(serializers.ModelSerializer[PlannedJob]):
    job = named_by("reference")
    turnout = named_by("code")
    crew = named_by("code")
    truck = named_by("code")
    window = named_by("reference")
    sheet = named_by("number")

    class Meta:
        model = PlannedJob
        fields = [
            "job",
            "turnout",
            "crew",
            "truck",
            "window",
            "leaves_at",
            "starts_at",
            "ends_at",
            "chance",
            "sheet",
        ]


class LeftOutSerializer(serializers.ModelSerializer[LeftOut]):
    job = named_by("reference")

    class Meta:
        model = LeftOut
        fields = ["job", "reason", "change"]


class PlanSerializer(serializers.ModelSerializer[WeekPlan]):
    """``value`` and ``bound`` are money in ``currency``: what the placed jobs save, and the most
    that any plan of this week could."""

    territory = named_by("code")
    made_by = named_by("username")
    currency = CurrencyField()
    placed = PlannedJobSerializer(many=True, read_only=True)
    left_out = LeftOutSerializer(many=True, read_only=True)

    class Meta:
        model = WeekPlan
        fields = [
            "id",
            "territory",
            "week",
            "number",
            "state",
            "chance",
            "value",
            "bound",
            "currency",
            "detail",
            "made_at",
            "made_by",
            "published_at",
            "placed",
            "left_out",
            "version",
        ]


class PlanRequestSerializer(serializers.Serializer[None]):
    """What to plan. ``request_key`` is the caller's own: the same key starts the planning once."""

    territory = serializers.CharField(max_length=16)
    week = serializers.DateField(help_text="The Monday the week begins on.")
    request_key = serializers.CharField(max_length=80)


class PublishSerializer(serializers.Serializer[None]):
    """The version the caller has seen; another one is answered with 409."""

    version = serializers.IntegerField(min_value=1)
