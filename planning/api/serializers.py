"""Track time and plans as JSON. Times carry their offset; chances are between 0 and 1."""

from django.urls import reverse
from rest_framework import serializers

from planning.comparing import Comparison, Moved
from planning.models import CrewCalendar, LeftOut, PlannedJob, WeekPlan, WorkWindow
from planning.reading import PlanRead
from planning.services.places import NoPlace, Offer, Places
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
    spare_min = serializers.IntegerField(
        read_only=True, help_text="Minutes from the planned end to the hand-back."
    )

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
            "spare_min",
            "chance",
            "locked",
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
            "origin",
            "based_on",
            "change",
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
    base = serializers.IntegerField(
        required=False, help_text="The id of the plan whose locked jobs stay where they are."
    )
    keep = serializers.BooleanField(
        default=False,
        help_text="Keep the published plan as far as it pays; ``detail.stability`` of the plan "
        "then says what that costs.",
    )


class NetworkRequestSerializer(serializers.Serializer[None]):
    """Which week to plan in every territory; the same key starts it once."""

    week = serializers.DateField(help_text="The Monday the week begins on.")
    request_key = serializers.CharField(max_length=80)
    keep = serializers.BooleanField(
        default=False,
        help_text="Keep each published plan as far as it pays; ``keeping_costs`` of the network's "
        "week then says what that costs. A territory without one is planned freely.",
    )


class PublishSerializer(serializers.Serializer[None]):
    """The version the caller has seen; another one is answered with 409."""

    version = serializers.IntegerField(min_value=1)


class HandEditSerializer(PublishSerializer):
    """A change by hand to one job of the plan, as the caller has seen it."""

    job = serializers.CharField(max_length=40)


class PlaceByHandSerializer(HandEditSerializer):
    """Where the job is to go."""

    crew = serializers.CharField(max_length=16)
    window = serializers.CharField(max_length=40)
    start = serializers.DateTimeField()


class LockSerializer(HandEditSerializer):
    """Whether the job stays where it is when the week is planned again."""

    locked = serializers.BooleanField()


class OfferSerializer(serializers.Serializer[Offer]):
    """A place that breaks no rule. ``change`` is what it does to the value of the plan."""

    crew = serializers.CharField()
    window = serializers.CharField()
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    chance = serializers.FloatField()
    value = serializers.FloatField()
    change = serializers.FloatField()
    late = serializers.BooleanField()
    put_off = serializers.ListField(child=serializers.CharField())
    here = serializers.BooleanField()


class NoPlaceSerializer(serializers.Serializer[NoPlace]):
    """A crew's shift and a window that would break a rule, and which."""

    crew = serializers.CharField()
    window = serializers.CharField()
    why = serializers.CharField()


class PlacesSerializer(serializers.Serializer[Places]):
    offers = OfferSerializer(many=True)
    closed = NoPlaceSerializer(many=True)


class MovedSerializer(serializers.Serializer[Moved]):
    """One job that both plans have, in two places."""

    what = serializers.CharField()
    old = PlannedJobSerializer()
    new = PlannedJobSerializer()


class FiguresSerializer(serializers.Serializer[PlanRead]):
    """The figures of one plan."""

    number = serializers.IntegerField(source="plan.number")
    state = serializers.CharField(source="plan.state")
    value = serializers.FloatField(source="plan.value")
    bound = serializers.FloatField(source="plan.bound", allow_null=True)
    crew_hours = serializers.FloatField()
    least_chance = serializers.FloatField(allow_null=True)
    all_in_time = serializers.FloatField()


class ComparisonSerializer(serializers.Serializer[Comparison]):
    """Two plans of one week. ``price`` is what the new one saves less than the old one."""

    old = FiguresSerializer()
    new = FiguresSerializer()
    price = serializers.FloatField()
    same = serializers.IntegerField()
    moved = MovedSerializer(many=True)
    came_in = PlannedJobSerializer(many=True)
    fell_out = PlannedJobSerializer(many=True)


class CrewCalendarSerializer(serializers.ModelSerializer[CrewCalendar]):
    """The secret address of a crew's calendar."""

    crew = named_by("code")
    path = serializers.SerializerMethodField()

    class Meta:
        model = CrewCalendar
        fields = ["crew", "path", "renewed_at"]

    def get_path(self, row: CrewCalendar) -> str:
        return reverse("crew-feed", args=[row.key])
