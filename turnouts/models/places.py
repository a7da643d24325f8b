"""Where things are: territories, lines with their mileposts, tracks and their class."""

from typing import Any

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import RangeOperators
from django.db import models
from django.db.models import F, Func, Q

from turnouts.models.audit import audited

CHAINAGE: dict[str, Any] = {"max_digits": 11, "decimal_places": 3}


class NumRange(Func):
    """PostgreSQL ``numrange(from, to)``, half open."""

    function = "numrange"


class DateRange(Func):
    """PostgreSQL ``daterange(from, to)``, half open; an empty end is open."""

    function = "daterange"


@audited()
class Territory(models.Model):
    """The part of the railway one supervisor looks after; access is granted by territory."""

    code = models.CharField(max_length=16, unique=True)
    name = models.CharField(max_length=80)

    class Meta:
        verbose_name_plural = "territories"
        ordering = ["code"]

    def __str__(self) -> str:
        return self.name


@audited()
class Line(models.Model):
    territory = models.ForeignKey(Territory, on_delete=models.PROTECT, related_name="lines")
    code = models.CharField(max_length=16, unique=True)
    name = models.CharField(max_length=80)
    milepost_unit = models.CharField(max_length=2, choices=[("mi", "miles"), ("km", "kilometres")])

    territory_path = "territory"

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.name


@audited()
class Milepost(models.Model):
    """A post beside the line: what is painted on it, and where it really stands.

    Posts are not assumed to stand a mile or a kilometre apart: relocations move the line, not the
    paint. ``chainage_m`` is measured along the line from its own zero.
    """

    line = models.ForeignKey(Line, on_delete=models.CASCADE, related_name="mileposts")
    reading = models.DecimalField(max_digits=8, decimal_places=3)
    chainage_m = models.DecimalField(**CHAINAGE)

    territory_path = "line__territory"

    class Meta:
        ordering = ["line", "reading"]
        constraints = [
            models.UniqueConstraint(fields=["line", "reading"], name="one_milepost_a_reading"),
            models.UniqueConstraint(fields=["line", "chainage_m"], name="one_milepost_a_chainage"),
        ]

    def __str__(self) -> str:
        return f"{self.line.code} {self.reading}"


@audited()
class Track(models.Model):
    KINDS = [("main", "Main"), ("siding", "Siding"), ("yard", "Yard")]

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="tracks")
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=8, choices=KINDS)

    territory_path = "line__territory"

    class Meta:
        ordering = ["line", "name"]
        constraints = [
            models.UniqueConstraint(fields=["line", "name"], name="one_track_a_name_on_a_line")
        ]

    def __str__(self) -> str:
        return f"{self.line.name}, {self.name}"


@audited()
class TrackClass(models.Model):
    """The class of track over a range of one track since a day; 0 is excepted track."""

    track = models.ForeignKey(Track, on_delete=models.CASCADE, related_name="classes")
    from_m = models.DecimalField(**CHAINAGE)
    to_m = models.DecimalField(**CHAINAGE)
    track_class = models.PositiveSmallIntegerField()
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    territory_path = "track__line__territory"

    class Meta:
        ordering = ["track", "from_m", "since"]
        verbose_name_plural = "track classes"
        constraints = [
            models.CheckConstraint(condition=Q(to_m__gt=F("from_m")), name="class_range_runs_on"),
            models.CheckConstraint(condition=Q(track_class__lte=5), name="class_is_0_to_5"),
            ExclusionConstraint(
                name="one_class_a_place_a_day",
                expressions=[
                    ("track", RangeOperators.EQUAL),
                    (NumRange("from_m", "to_m"), RangeOperators.OVERLAPS),
                    (DateRange("since", "until"), RangeOperators.OVERLAPS),
                ],
            ),
        ]

    def __str__(self) -> str:
        return f"{self.track}: class {self.track_class}"
