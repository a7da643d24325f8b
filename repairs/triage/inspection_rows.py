"""The row of a rule set that says how often something is inspected."""

from dataclasses import dataclass

from repairs.triage.rows import Row
from turnouts.analysis.terms import Term


class InspectionKind(Term):
    """What an inspection row asks for; each has its own last date in ``InspectionFacts``."""

    TRACK = "track"
    ON_FOOT = "on_foot"
    THROW = "throw"


@dataclass(frozen=True, slots=True, kw_only=True)
class InspectionRow(Row):
    """The longest time from one inspection to the next: ``days`` or ``months``, not both.

    The three facts are conditions; one that nobody recorded does not excuse from the row.
    ``before_use`` asks for an inspection before trains run instead.
    """

    kind: InspectionKind
    classes: frozenset[int] = frozenset()
    days: int | None = None
    months: int | None = None
    before_use: bool = False
    held_by_one_rod: bool | None = None
    used_monthly: bool | None = None
    main_or_siding: bool | None = None
    passengers_or_over_10_mgt: bool | None = None
    says: str

    @property
    def value_seen(self) -> str:
        if self.before_use:
            return "before use"
        return f"{self.days} days" if self.days is not None else f"{self.months} months"
