"""The watch over jobs under way: whether the chance fell under the set level, and who was told."""

from django.conf import settings
from django.db import models

from repairs.models.sheets import JobSheet
from turnouts.models.letters import Letter


class FieldWatch(models.Model):
    """How a job under way stood when it was last looked at.

    ``crossings`` counts how often its chance fell under the set level.
    """

    sheet = models.OneToOneField(JobSheet, on_delete=models.PROTECT, related_name="watch")
    under = models.BooleanField(default=False)
    crossings = models.PositiveIntegerField(default=0)
    chance = models.FloatField()
    seen_at = models.DateTimeField()

    territory_path = "sheet__job__turnout__track__line__territory"

    class Meta:
        ordering = ["sheet"]
        verbose_name_plural = "field watches"

    def __str__(self) -> str:
        return f"{self.sheet}: {self.chance:.0%}"


class ChanceNotice(Letter):
    """One e-mail to one supervisor about one fall of the chance under the set level."""

    sheet = models.ForeignKey(JobSheet, on_delete=models.PROTECT, related_name="chance_notices")
    crossing = models.PositiveIntegerField()
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="chance_notices"
    )
    chance = models.FloatField()
    made_at = models.DateTimeField()

    territory_path = "sheet__job__turnout__track__line__territory"

    class Meta:
        ordering = ["sheet", "crossing", "person"]
        constraints = [
            models.UniqueConstraint(
                fields=["sheet", "crossing", "person"], name="one_chance_notice_a_person_a_fall"
            )
        ]

    def __str__(self) -> str:
        return f"{self.subject} to {self.person}"
