"""Crews, trucks, stock and the roads between them."""

from django.conf import settings
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import RangeOperators
from django.db import models
from django.db.models import F, Func, Q

from turnouts.models import Line, Territory
from turnouts.models.audit import audited
from turnouts.models.places import CHAINAGE, DateRange


class TimeRange(Func):
    """PostgreSQL ``tstzrange(from, to)``, half open."""

    function = "tstzrange"


@audited()
class Depot(models.Model):
    territory = models.ForeignKey(Territory, on_delete=models.PROTECT, related_name="depots")
    code = models.CharField(max_length=16, unique=True)
    name = models.CharField(max_length=80)
    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="depots")
    milepost = models.DecimalField(max_digits=8, decimal_places=3)
    chainage_m = models.DecimalField(**CHAINAGE)

    territory_path = "territory"

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.name


@audited()
class Truck(models.Model):
    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="trucks")
    code = models.CharField(max_length=16, unique=True)
    name = models.CharField(max_length=80)
    capacity_kg = models.DecimalField(max_digits=9, decimal_places=3)

    territory_path = "depot__territory"

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(condition=Q(capacity_kg__gt=0), name="truck_carries_something")
        ]

    def __str__(self) -> str:
        return self.name


@audited()
class Crew(models.Model):
    depot = models.ForeignKey(Depot, on_delete=models.PROTECT, related_name="crews")
    truck = models.ForeignKey(
        Truck, on_delete=models.PROTECT, null=True, blank=True, related_name="crews"
    )
    code = models.CharField(max_length=16, unique=True)
    name = models.CharField(max_length=80)
    shared = models.BooleanField(
        default=False, help_text="Other territories may have the shifts it has no work in."
    )

    territory_path = "depot__territory"

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.name


@audited()
class CrewMember(models.Model):
    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="members")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="crew_memberships"
    )
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    territory_path = "crew__depot__territory"

    class Meta:
        ordering = ["crew", "since", "person"]
        constraints = [
            ExclusionConstraint(
                name="one_crew_a_person_a_day",
                expressions=[
                    ("person", RangeOperators.EQUAL),
                    (DateRange("since", "until"), RangeOperators.OVERLAPS),
                ],
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} in {self.crew}"


@audited()
class Shift(models.Model):
    """The hours a crew works on one day, from its base back to its base."""

    crew = models.ForeignKey(Crew, on_delete=models.CASCADE, related_name="shifts")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    overtime_min = models.PositiveSmallIntegerField(
        default=0, help_text="Minutes past its end that may be worked where that lets more in."
    )

    territory_path = "crew__depot__territory"

    class Meta:
        ordering = ["crew", "starts_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(overtime_min__lte=480), name="overtime_is_no_second_shift"
            ),
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="shift_ends_after_start"
            ),
            ExclusionConstraint(
                name="one_shift_a_crew_at_a_time",
                expressions=[
                    ("crew", RangeOperators.EQUAL),
                    (TimeRange("starts_at", "ends_at"), RangeOperators.OVERLAPS),
                ],
            ),
        ]

    def __str__(self) -> str:
        return f"{self.crew} from {self.starts_at:%Y-%m-%d %H:%M}"


@audited()
class CrewLoan(models.Model):
    """A shift that a shared crew works in another territory than its own."""

    shift = models.OneToOneField(Shift, on_delete=models.CASCADE, related_name="loan")
    territory = models.ForeignKey(Territory, on_delete=models.CASCADE, related_name="loans")

    territory_path = "territory"

    class Meta:
        ordering = ["shift"]

    def __str__(self) -> str:
        return f"{self.shift} in {self.territory}"


@audited()
class Stock(models.Model):
    """How much of a material lies in a depot or on a truck."""

    depot = models.ForeignKey(
        Depot, on_delete=models.PROTECT, null=True, blank=True, related_name="stock"
    )
    truck = models.ForeignKey(
        Truck, on_delete=models.PROTECT, null=True, blank=True, related_name="stock"
    )
    material = models.CharField(max_length=40)
    quantity = models.DecimalField(max_digits=10, decimal_places=3)
    unit = models.CharField(max_length=12)
    lead_days = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text="Days from an order until it lies in the depot; empty: not to be ordered.",
    )

    class Meta:
        ordering = ["depot", "truck", "material"]
        verbose_name_plural = "stock"
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gte=0), name="stock_is_not_negative"),
            models.CheckConstraint(
                condition=Q(depot__isnull=True) ^ Q(truck__isnull=True),
                name="stock_lies_in_one_place",
            ),
            models.CheckConstraint(
                condition=Q(lead_days__isnull=True) | Q(depot__isnull=False),
                name="orders_come_to_a_depot",
            ),
            models.UniqueConstraint(
                fields=["depot", "truck", "material"],
                name="one_stock_row_a_material_a_place",
                nulls_distinct=False,
            ),
        ]

    def __str__(self) -> str:
        return f"{self.material}: {self.quantity} {self.unit}"


@audited()
class Road(models.Model):
    """A road from a place on one line to a place on another; along a line the chainage tells."""

    from_line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="roads_out")
    from_milepost = models.DecimalField(max_digits=8, decimal_places=3)
    from_m = models.DecimalField(**CHAINAGE)
    to_line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="roads_in")
    to_milepost = models.DecimalField(max_digits=8, decimal_places=3)
    to_m = models.DecimalField(**CHAINAGE)
    via = models.CharField(max_length=80, blank=True)
    minutes = models.DecimalField(max_digits=6, decimal_places=1)

    territory_path = "from_line__territory"

    class Meta:
        ordering = ["from_line", "to_line"]
        constraints = [
            models.UniqueConstraint(
                fields=["from_line", "from_milepost", "to_line", "to_milepost"],
                name="one_road_a_pair_of_places",
            ),
            models.CheckConstraint(condition=Q(minutes__gt=0), name="road_takes_time"),
        ]

    def __str__(self) -> str:
        return f"{self.from_line.code} to {self.to_line.code}"
