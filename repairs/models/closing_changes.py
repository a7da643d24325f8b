"""What a correction after the signature would change of a job's closing, and the answer to it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from repairs.models.answered import ANSWER, Answered, answered_once, by_a_second_person
from repairs.models.field import FieldRecord
from turnouts.models.audit import audited
from turnouts.models.letters import Letter


@audited()
class ClosingChange(Answered):
    """What each defect of a job came to by the corrected record, and what it ``stood`` as.

    Both name ``proved``, ``repaired`` or ``left`` by the defect's reference. Written once except
    for the answer; a later correction overtakes what still waits. ``done`` says what approving did.
    """

    STATES = [
        ("proposed", "Waits for an answer"),
        ("approved", "Approved"),
        ("rejected", "Rejected"),
        ("overtaken", "Overtaken by a later correction"),
    ]

    record = models.OneToOneField(
        FieldRecord, on_delete=models.PROTECT, related_name="closing_change"
    )
    stood = models.JSONField()
    should_be = models.JSONField()
    state = models.CharField(max_length=9, choices=STATES, default="proposed")
    done = models.JSONField(default=list)

    territory_path = "record__sheet__job__turnout__track__line__territory"

    class Meta(Answered.Meta):
        constraints = [
            models.CheckConstraint(
                condition=by_a_second_person(),
                name="closing_change_is_answered_by_a_second_person",
            ),
            models.CheckConstraint(
                condition=Q(
                    Q(state="proposed") | Q(state="overtaken"),
                    answered_by__isnull=True,
                    answered_at__isnull=True,
                )
                | Q(
                    Q(state="approved") | Q(Q(state="rejected"), ~Q(answer_note="")),
                    answered_by__isnull=False,
                    answered_at__isnull=False,
                ),
                name="closing_change_answer_is_whole",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="closing_change_has_a_reason"),
        ]
        triggers = answered_once("closing_changes", "closing_answers", [*ANSWER, "done"])

    def __str__(self) -> str:
        return f"Closing of {self.record.sheet} after record {self.record.number}"


class ClosingNotice(Letter):
    """One e-mail to one supervisor about a closing that a correction puts in question."""

    change = models.ForeignKey(ClosingChange, on_delete=models.PROTECT, related_name="notices")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="closing_notices"
    )

    territory_path = "change__record__sheet__job__turnout__track__line__territory"

    class Meta:
        ordering = ["change", "person"]
        constraints = [
            models.UniqueConstraint(
                fields=["change", "person"], name="one_closing_notice_a_person_a_change"
            )
        ]

    def __str__(self) -> str:
        return f"{self.subject} to {self.person}"
