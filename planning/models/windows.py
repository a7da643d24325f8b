"""Track time: when which stretch of which track is given to the gangs, and how it is protected."""

from django.db import models
from django.db.models import F, Q

from turnouts.models import Track
from turnouts.models.audit import audited
from turnouts.models.places import CHAINAGE


@audited()
class WorkWindow(models.Model):
    # The forms of on-track safety of 49 CFR 214.321 to 214.329.
    PROTECTION = [
        ("exclusive_track_occupancy", "Exclusive track occupancy"),
        ("foul_time", "Foul time"),
        ("train_coordination", "Train coordination"),
        ("inaccessible_track", "Inaccessible track"),
        ("train_approach_warning", "Train approach warning by lookouts"),
    ]

    reference = models.CharField(max_length=40, unique=True)
    track = models.ForeignKey(Track, on_delete=models.PROTECT, related_name="work_windows")
    from_milepost = models.DecimalField(max_digits=8, decimal_places=3)
    to_milepost = models.DecimalField(max_digits=8, decimal_places=3)
    from_m = models.DecimalField(**CHAINAGE)
    to_m = models.DecimalField(**CHAINAGE)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    protection = models.CharField(max_length=32, choices=PROTECTION)
    gangs = models.PositiveSmallIntegerField(default=1)
    version = models.PositiveIntegerField(default=1)

    territory_path = "track__line__territory"

    class Meta:
        ordering = ["starts_at", "reference"]
        indexes = [models.Index(fields=["starts_at", "ends_at"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="window_ends_after_start"
            ),
            models.CheckConstraint(condition=Q(to_m__gt=F("from_m")), name="window_range_runs_on"),
            models.CheckConstraint(condition=Q(gangs__gte=1), name="window_lets_a_gang_in"),
        ]

    def __str__(self) -> str:
        return self.reference
