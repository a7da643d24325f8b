"""Who may do what, from when until when, and on what evidence."""

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from turnouts.models.audit import audited


@audited()
class Qualification(models.Model):
    """A certificate for a repair procedure or a duty in track; ``procedure`` is its key."""

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="qualifications"
    )
    procedure = models.CharField(max_length=40)
    issued_on = models.DateField()
    expires_on = models.DateField(null=True, blank=True)
    evidence = models.CharField(max_length=200)

    class Meta:
        ordering = ["person", "procedure", "issued_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "procedure", "issued_on"], name="one_certificate_a_day"
            ),
            models.CheckConstraint(
                condition=Q(expires_on__isnull=True) | Q(expires_on__gt=F("issued_on")),
                name="certificate_expires_after_issue",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.procedure}"

    def valid_on(self, day: date) -> bool:
        """Whether it holds on a day; the day of expiry still counts."""
        return self.issued_on <= day and (self.expires_on is None or day <= self.expires_on)
