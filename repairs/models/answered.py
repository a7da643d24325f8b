"""What one engineer proposes and another answers, once: columns, constraints and triggers."""

from collections.abc import Sequence

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import F, Q

ANSWER = ["state", "answered_by", "answered_at", "answer_note"]
"""What may still change after a proposal is written: its answer, given once."""


class Answered(models.Model):
    """The reason for a proposal, who made it and who answered; its states are each row's own."""

    reason = models.CharField(max_length=300)
    proposed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    proposed_at = models.DateTimeField()
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    answered_at = models.DateTimeField(null=True, blank=True)
    answer_note = models.CharField(max_length=300, blank=True)

    class Meta:
        abstract = True
        ordering = ["-proposed_at", "-pk"]


def by_a_second_person() -> Q:
    """Nobody answers what he proposed himself."""
    return Q(answered_by__isnull=True) | ~Q(answered_by=F("proposed_by"))


def answered_from_a_day() -> Q:
    """Waiting; approved from a day not before the one proposed; or rejected, with words."""
    return (
        Q(
            state="proposed",
            answered_by__isnull=True,
            answered_at__isnull=True,
            begins_on__isnull=True,
        )
        | Q(
            state="approved",
            answered_by__isnull=False,
            answered_at__isnull=False,
            begins_on__gte=F("starts_on"),
        )
        | Q(
            ~Q(answer_note=""),
            state="rejected",
            answered_by__isnull=False,
            answered_at__isnull=False,
            begins_on__isnull=True,
        )
    )


def answered_once(rows: str, answers: str, may_change: Sequence[str]) -> list[pgtrigger.Trigger]:
    """Nothing is deleted, nothing but the answer changes, and that while none is given."""
    return [
        pgtrigger.Protect(name=f"{rows}_stay", operation=pgtrigger.Delete),
        pgtrigger.ReadOnly(name=f"{rows}_are_written_once", exclude=list(may_change)),
        pgtrigger.Protect(
            name=f"{answers}_stay",
            operation=pgtrigger.Update,
            condition=~pgtrigger.Q(old__state="proposed"),
        ),
    ]
