"""Which repair comes before which, as a supervisor has said."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from repairs.models import RepairJob
from turnouts.models.audit import audited


@audited()
class JobOrder(models.Model):
    """``then`` is not begun before ``first`` is done: in one crew's day, or once the track time of
    ``first`` is handed back."""

    first = models.ForeignKey(RepairJob, on_delete=models.PROTECT, related_name="comes_before")
    then = models.ForeignKey(RepairJob, on_delete=models.PROTECT, related_name="comes_after")
    reason = models.CharField(max_length=200)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    territory_path = "then__turnout__track__line__territory"

    class Meta:
        ordering = ["then", "first"]
        constraints = [
            models.UniqueConstraint(fields=["first", "then"], name="two_jobs_in_order_once"),
            models.CheckConstraint(condition=~Q(first=F("then")), name="no_job_before_itself"),
        ]

    def __str__(self) -> str:
        return f"{self.then} after {self.first}"
