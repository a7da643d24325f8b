"""What signed records took off the stock, and what of it the stock did not show."""

import pgtrigger
from django.db import models
from django.db.models import Q

from planning.models.resources import Depot, Truck
from repairs.models import FieldRecord


class StockUse(models.Model):
    """Material that one signed record took off one place; below zero what a correction put back.

    With neither truck nor depot it was used beyond what the stock shows, so that somebody counts.
    ``left`` is what then lay there.
    """

    record = models.ForeignKey(FieldRecord, on_delete=models.PROTECT, related_name="stock_uses")
    material = models.CharField(max_length=40)
    unit = models.CharField(max_length=12)
    truck = models.ForeignKey(
        Truck, on_delete=models.PROTECT, null=True, blank=True, related_name="uses"
    )
    depot = models.ForeignKey(
        Depot, on_delete=models.PROTECT, null=True, blank=True, related_name="uses"
    )
    quantity = models.DecimalField(max_digits=10, decimal_places=3)
    left = models.DecimalField(max_digits=10, decimal_places=3, null=True, blank=True)
    at = models.DateTimeField()

    territory_path = "record__sheet__job__turnout__track__line__territory"

    class Meta:
        ordering = ["record", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["record", "material", "truck", "depot"],
                name="a_record_takes_once_from_a_place",
                nulls_distinct=False,
            ),
            models.CheckConstraint(
                condition=Q(truck__isnull=True) | Q(depot__isnull=True),
                name="stock_use_is_of_one_place",
            ),
            models.CheckConstraint(condition=~Q(quantity=0), name="stock_use_is_of_something"),
            models.CheckConstraint(
                condition=Q(truck__isnull=True, depot__isnull=True, left__isnull=True)
                | (Q(left__gte=0) & (Q(truck__isnull=False) | Q(depot__isnull=False))),
                name="stock_use_says_what_was_left",
            ),
        ]
        triggers = [
            pgtrigger.Protect(name="stock_uses_stay", operation=pgtrigger.Delete | pgtrigger.Update)
        ]

    def __str__(self) -> str:
        return f"{self.quantity} {self.unit} of {self.material} by {self.record}"

    @property
    def place(self) -> Truck | Depot | None:
        """Where it lay; None where no stock showed it."""
        return self.truck or self.depot
