"""What an engineer decided of a component that keeps coming back: weld it again, or replace it."""

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Q

from turnouts.models import Component, Turnout
from turnouts.models.audit import audited


@audited(exclude=["detail"])
class RenewalChoice(models.Model):
    """One decision with what the costs said that day beside it. Written once.

    ``takes_place_of`` is the decision before it: a component has one line of them, and the last
    holds. ``welds`` is how many more until it is replaced; ``detail`` the ways and their costs.
    """

    WAYS = [
        ("weld", "Weld again"),
        ("replace_now", "Replace now"),
        ("replace_in_window", "Replace in the renewal window"),
    ]

    component = models.ForeignKey(
        Component, on_delete=models.PROTECT, related_name="renewal_choices"
    )
    turnout = models.ForeignKey(Turnout, on_delete=models.PROTECT, related_name="+")
    takes_place_of = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="superseded_by"
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=16)
    at = models.DateTimeField()
    way = models.CharField(max_length=20, choices=WAYS)
    welds = models.PositiveSmallIntegerField()
    window_on = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=500)
    advised_way = models.CharField(max_length=20, choices=WAYS)
    advised_welds = models.PositiveSmallIntegerField()
    advised_clear = models.BooleanField()
    detail = models.JSONField()

    territory_path = "turnout__track__line__territory"

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["component"],
                condition=Q(takes_place_of__isnull=True),
                name="one_first_renewal_choice_a_component",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="renewal_choice_has_a_reason"),
            models.CheckConstraint(
                condition=Q(way="weld", welds__gt=0) | (~Q(way="weld") & Q(welds=0)),
                name="only_welding_again_counts_welds",
            ),
            models.CheckConstraint(
                condition=~Q(way="replace_in_window") | Q(window_on__isnull=False),
                name="a_renewal_window_has_its_day",
            ),
        ]
        triggers = [
            pgtrigger.Protect(
                name="renewal_choices_stay", operation=pgtrigger.Delete | pgtrigger.Update
            )
        ]

    def __str__(self) -> str:
        return f"{self.component}: {self.get_way_display()}"

    @property
    def words(self) -> str:
        """What was decided, in words."""
        if self.way == "weld":
            return f"Weld {self.welds} more time{'s' if self.welds > 1 else ''}, then replace"
        window = f" of {self.window_on}" if self.way == "replace_in_window" else ""
        return f"{self.get_way_display()}{window}"

    @property
    def follows_advice(self) -> bool:
        """Whether the engineer decided what the costs had said."""
        return self.way == self.advised_way and self.welds in (0, self.advised_welds)
