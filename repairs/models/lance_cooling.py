"""The cooling of the air lance as signed records have it, taken over by two engineers."""

from django.db import models
from django.db.models import F, Q

from repairs.models.answered import ANSWER, Answered, answered_once, by_a_second_person
from turnouts.models.audit import audited


@audited()
class LanceCooling(Answered):
    """One convection coefficient under the air lance, fitted from signed records, in W/(m2 K).

    Written once except for the answer, and the answer is given once. ``spread`` is the factor by
    which the coefficient is known, ``fits`` the sheets it rests on, each with its own value, and
    ``stood`` what estimates reckoned with when it was proposed. Of those approved the one approved
    last is in force, on the whole railway.
    """

    STATES = [("proposed", "Proposed"), ("approved", "Approved"), ("rejected", "Rejected")]

    w_per_m2_k = models.FloatField()
    spread = models.FloatField()
    fits = models.JSONField()
    stood = models.FloatField()
    state = models.CharField(max_length=8, choices=STATES, default="proposed")

    class Meta(Answered.Meta):
        constraints = [
            models.CheckConstraint(
                condition=by_a_second_person(),
                name="lance_cooling_is_answered_by_a_second_person",
            ),
            models.CheckConstraint(
                condition=Q(state="proposed", answered_by=None, answered_at=None)
                | Q(state="approved", answered_by__isnull=False, answered_at__isnull=False)
                | Q(
                    ~Q(answer_note=""),
                    state="rejected",
                    answered_by__isnull=False,
                    answered_at__isnull=False,
                ),
                name="lance_cooling_answer_is_whole",
            ),
            models.CheckConstraint(
                condition=Q(w_per_m2_k__gt=0, spread__gte=1, stood__gt=0),
                name="lance_cooling_makes_sense",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="lance_cooling_has_a_reason"),
            models.UniqueConstraint(
                F("state"), condition=Q(state="proposed"), name="one_lance_cooling_waits"
            ),
        ]
        triggers = answered_once("lance_coolings", "lance_cooling_answers", ANSWER)

    def __str__(self) -> str:
        return f"Air lance {self.w_per_m2_k:.0f} W/(m2 K), {self.get_state_display().lower()}"
