"""Who may do what, from when until when, and on what evidence."""

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from turnouts.models.audit import audited


@audited()
class Qualification(models.Model):
    """A certificate for a repair procedure or a duty in track; ``procedure`` is its key.

    ``evidence`` says in words what it rests on. For welding there are four proofs besides, each
    left empty where it was not asked for: the macro-etch of the groove test plate, the mock
    repair, its penetrant test, and the mark of the written test in percent.
    """

    RESULTS = [("passed", "Passed"), ("failed", "Failed")]

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="qualifications"
    )
    procedure = models.CharField(max_length=40)
    issued_on = models.DateField()
    expires_on = models.DateField(null=True, blank=True)
    evidence = models.CharField(max_length=200)
    plate_macro_etch = models.CharField(max_length=8, choices=RESULTS, blank=True)
    mock_repair = models.CharField(max_length=8, choices=RESULTS, blank=True)
    mock_penetrant = models.CharField(max_length=8, choices=RESULTS, blank=True)
    written_mark_percent = models.PositiveSmallIntegerField(null=True, blank=True)

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
            models.CheckConstraint(
                condition=Q(written_mark_percent__isnull=True) | Q(written_mark_percent__lte=100),
                name="written_mark_is_a_percentage",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.procedure}"

    def valid_on(self, day: date) -> bool:
        """Whether it holds on a day; the day of expiry still counts. A failed proof holds never."""
        if self.failed:
            return False
        return self.issued_on <= day and (self.expires_on is None or day <= self.expires_on)

    @property
    def failed(self) -> bool:
        """Whether one of its proofs was not passed."""
        return "failed" in (self.plate_macro_etch, self.mock_repair, self.mock_penetrant)
