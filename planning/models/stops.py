"""A supervisor's word that a planning run has gone on long enough."""

from django.conf import settings
from django.db import models

from turnouts.models import LongRun


class PlanningStop(models.Model):
    """The run ends as soon as it reads this, with the best plan it has by then."""

    run = models.OneToOneField(LongRun, on_delete=models.CASCADE, related_name="stop")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at"]

    def __str__(self) -> str:
        return f"{self.run} stopped"
