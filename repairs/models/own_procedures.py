"""The railway's own editions of a procedure: what one engineer proposes, another answers."""

import pgtrigger
from django.db import models
from django.db.models import F, Q

from repairs.models.answered import (
    ANSWER,
    Answered,
    answered_from_a_day,
    answered_once,
    by_a_second_person,
)
from turnouts.models.audit import audited


@audited()
class OwnerProcedure(Answered):
    """One edition of a procedure as the railway wants it, laid over a shipped edition.

    Written once except for the answer, and the answer is given once. ``begins_on`` is the day from
    which it is in force, set when it is approved: never before. ``interpass_rule`` is the key of a
    rule that the shipped edition lists, or empty where the railway has a rule of its own: then
    limit, place and reason say it.
    """

    STATES = [
        ("proposed", "Proposed"),
        ("approved", "Approved"),
        ("rejected", "Rejected"),
        ("withdrawn", "Withdrawn"),
    ]

    procedure = models.CharField(max_length=40)
    base_since = models.DateField()
    starts_on = models.DateField()
    interpass_rule = models.CharField(max_length=40, blank=True)
    interpass_limit_degc = models.FloatField(null=True, blank=True)
    interpass_place_mm = models.FloatField(null=True, blank=True)
    interpass_reason = models.CharField(max_length=300, blank=True)
    state = models.CharField(max_length=9, choices=STATES, default="proposed")
    begins_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta(Answered.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(state="withdrawn") | by_a_second_person(),
                name="own_procedure_is_answered_by_a_second_person",
            ),
            models.CheckConstraint(
                condition=answered_from_a_day()
                | Q(
                    state="withdrawn",
                    answered_by=F("proposed_by"),
                    answered_at__isnull=False,
                    begins_on__isnull=True,
                ),
                name="own_procedure_answer_is_whole",
            ),
            models.CheckConstraint(
                condition=(
                    ~Q(interpass_rule="")
                    & Q(
                        interpass_limit_degc__isnull=True,
                        interpass_place_mm__isnull=True,
                        interpass_reason="",
                    )
                )
                | (
                    Q(
                        interpass_rule="",
                        interpass_limit_degc__isnull=False,
                        interpass_place_mm__isnull=False,
                    )
                    & ~Q(interpass_reason="")
                ),
                name="own_procedure_interpass_is_whole",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="own_procedure_has_a_reason"),
            models.UniqueConstraint(
                fields=["procedure", "begins_on"],
                condition=Q(state="approved"),
                name="one_own_edition_begins_on_a_day",
            ),
        ]
        triggers = answered_once(
            "own_procedures", "own_procedure_answers", [*ANSWER, "begins_on", "version"]
        )

    def __str__(self) -> str:
        return f"{self.procedure}, own edition from {self.begins_on or self.starts_on}"


@audited()
class OwnerSetting(models.Model):
    """One setting of an own edition: a number, words or a list of words, with the reason.

    ``unit`` is that of the shipped row, so that the row can be read by itself.
    """

    edition = models.ForeignKey(OwnerProcedure, on_delete=models.PROTECT, related_name="changes")
    key = models.CharField(max_length=40)
    value = models.JSONField()
    unit = models.CharField(max_length=16)
    reason = models.CharField(max_length=300)

    class Meta:
        ordering = ["edition", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["edition", "key"], name="a_setting_once_an_edition"),
            models.CheckConstraint(condition=~Q(reason=""), name="own_setting_has_a_reason"),
        ]
        triggers = [
            pgtrigger.Protect(
                name="own_settings_stay", operation=pgtrigger.Update | pgtrigger.Delete
            ),
            pgtrigger.Trigger(
                name="own_settings_come_before_the_answer",
                when=pgtrigger.Before,
                operation=pgtrigger.Insert,
                func="""
                    IF (SELECT state FROM repairs_ownerprocedure WHERE id = NEW.edition_id)
                        <> 'proposed' THEN
                        RAISE EXCEPTION 'the edition is answered; its settings stay as they are';
                    END IF;
                    RETURN NEW;
                """,
            ),
        ]

    def __str__(self) -> str:
        return f"{self.edition}: {self.key}"
