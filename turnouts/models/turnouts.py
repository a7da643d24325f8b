"""The turnout as a place in the track, and the traffic that runs over it."""

from typing import Any, Self

from django.db import models
from django.db.models import Q

from turnouts.analysis.terms import Hand, Route
from turnouts.analysis.whereabouts import Place, place_of
from turnouts.models.audit import audited
from turnouts.models.choices import choices, only
from turnouts.models.places import CHAINAGE, Territory, Track

# 1 mph is 1.609344 km/h exactly, so six places hold every whole mph without rounding.
SPEED: dict[str, Any] = {"max_digits": 9, "decimal_places": 6}


class TurnoutQuerySet(models.QuerySet["Turnout"]):
    def with_place(self) -> Self:
        """Rows with line and territory read in the same query."""
        return self.select_related("track__line__territory")


@audited()
class Turnout(models.Model):
    FACING = [
        ("increasing", "faces trains towards rising mileposts"),
        ("decreasing", "faces trains towards falling mileposts"),
    ]

    code = models.CharField(max_length=24, unique=True)
    track = models.ForeignKey(Track, on_delete=models.PROTECT, related_name="turnouts")
    diverges_to = models.ForeignKey(
        Track, on_delete=models.PROTECT, null=True, blank=True, related_name="joined_by"
    )
    milepost = models.DecimalField(max_digits=8, decimal_places=3)
    chainage_m = models.DecimalField(**CHAINAGE)
    hand = models.CharField(max_length=12, choices=choices(Hand))
    frog_number = models.DecimalField(max_digits=5, decimal_places=2)
    rail_section = models.CharField(max_length=16)
    faces = models.CharField(max_length=10, choices=FACING)
    speed_through_kmh = models.DecimalField(**SPEED)
    speed_diverging_kmh = models.DecimalField(**SPEED)
    access = models.CharField(max_length=200, blank=True)
    # WGS 84 in decimal degrees, south and west below zero. Six places are a tenth of a metre.
    latitude = models.DecimalField(max_digits=8, decimal_places=6, null=True, blank=True)
    longitude = models.DecimalField(max_digits=9, decimal_places=6, null=True, blank=True)
    # What 49 CFR 213.233 and .235 go by; empty means nobody has said.
    held_by_one_rod = models.BooleanField(null=True, blank=True)
    used_monthly = models.BooleanField(null=True, blank=True)
    carries_passengers = models.BooleanField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    objects = TurnoutQuerySet.as_manager()
    territory_path = "track__line__territory"

    class Meta:
        ordering = ["track__line__code", "chainage_m", "code"]
        constraints = [
            only("hand", Hand, "turnout_hand_is_known"),
            models.CheckConstraint(condition=Q(frog_number__gt=0), name="frog_number_is_positive"),
            models.CheckConstraint(
                condition=Q(speed_through_kmh__gt=0) & Q(speed_diverging_kmh__gt=0),
                name="turnout_speeds_are_positive",
            ),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(latitude__isnull=False, longitude__isnull=False),
                name="turnout_has_both_coordinates_or_neither",
            ),
            models.CheckConstraint(
                condition=Q(latitude__range=(-90, 90)) & Q(longitude__range=(-180, 180)),
                name="turnout_coordinates_lie_on_the_earth",
            ),
        ]

    def __str__(self) -> str:
        return self.code

    @property
    def territory(self) -> Territory:
        return self.track.line.territory

    @property
    def place(self) -> Place | None:
        """Where it is on the earth; None where nobody has noted it."""
        return place_of(self.latitude, self.longitude)


@audited()
class Traffic(models.Model):
    """Trains and tonnage over one route of a turnout since a day.

    ``annual_mgt`` is million gross (short) tons a year, the trade's measure of use.
    """

    turnout = models.ForeignKey(Turnout, on_delete=models.CASCADE, related_name="traffic")
    route = models.CharField(max_length=10, choices=choices(Route))
    since = models.DateField()
    trains_per_day = models.DecimalField(max_digits=6, decimal_places=2)
    annual_mgt = models.DecimalField(max_digits=8, decimal_places=4)

    territory_path = "turnout__track__line__territory"

    class Meta:
        ordering = ["turnout", "route", "since"]
        verbose_name_plural = "traffic"
        constraints = [
            models.UniqueConstraint(
                fields=["turnout", "route", "since"], name="one_traffic_row_a_route_a_day"
            ),
            models.CheckConstraint(
                condition=Q(trains_per_day__gte=0) & Q(annual_mgt__gte=0),
                name="traffic_is_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.turnout.code} {self.route} since {self.since}"
