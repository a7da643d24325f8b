"""How the groups of a family compare, as the night worked it out."""

from django.db import models

from turnouts.analysis.recurrence.log_rank import By
from turnouts.analysis.terms import ComponentKind, FrogDesign, Steel
from turnouts.models.choices import choices, only


class FamilyComparison(models.Model):
    """One family split by one fact; an empty design or steel means all of them.

    ``content`` is the comparison, ``found`` its looks that are worse than the others even over the
    whole night. They follow from other rows, are written anew every night, and are not audited.
    """

    kind = models.CharField(max_length=16, choices=choices(ComponentKind))
    design = models.CharField(max_length=24, choices=choices(FrogDesign), blank=True)
    steel = models.CharField(max_length=16, choices=choices(Steel), blank=True)
    by = models.CharField(max_length=16, choices=choices(By))
    components = models.PositiveIntegerField()
    content = models.JSONField()
    found = models.JSONField(default=list)
    made_on = models.DateField()

    class Meta:
        ordering = ["kind", "design", "steel", "by"]
        constraints = [
            only("by", By, "comparison_fact_is_known"),
            models.UniqueConstraint(
                fields=["kind", "design", "steel", "by"],
                name="one_comparison_of_a_family_by_a_fact",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.family} by {By(self.by).label.lower()}"

    @property
    def family(self) -> str:
        """The family in words: ``Frog, rail bound manganese, manganese``; ``Frog, all``."""
        parts = [part.replace("_", " ") for part in (self.kind, self.design, self.steel) if part]
        words = ", ".join(parts if len(parts) > 1 else [*parts, "all"])
        return words[:1].upper() + words[1:]
