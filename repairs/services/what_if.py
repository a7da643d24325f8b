"""What the rules would say if one value were another. Nothing is kept."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from repairs.services.facts import cases_for
from repairs.services.territory_rules import rules_by_territory
from repairs.triage.all_sets import decide_all
from repairs.triage.bands import Band, Turned, bands, turned, values_of
from repairs.triage.decision import Decision
from repairs.triage.facts import Case
from repairs.triage.rules import RuleSet
from repairs.triage.turning import TurningPoint, turning_points
from turnouts.models import Defect
from turnouts.services.errors import Refused

LONGEST_MM = Decimal(3000)
"""More than anything measured at a turnout's frog, points or guards."""


@dataclass(frozen=True)
class Facts:
    """A defect with all that is known around it on a day, and the rules it stands under."""

    defect: Defect
    case: Case
    sets: tuple[RuleSet, ...]
    values: tuple[Turned, ...]

    def judged(self, case: Case) -> Decision:
        """The answer under all of them: of each part the strictest stands."""
        return decide_all(case, self.sets).decision

    def value(self, name: str) -> Turned:
        """The value of this name; Refused with the names there are."""
        for one in self.values:
            if one.name == name:
                return one
        known = ", ".join(one.name for one in self.values) or "none"
        raise Refused(f"No rule looks at {name!r} here. What can be asked about: {known}.")


@dataclass(frozen=True)
class WhatIf:
    """The answer at one value, the answer as things are, and all answers along that value."""

    of: Turned
    mm: Decimal
    then: Decision
    now: Decision
    bands: tuple[Band, ...]

    @property
    def same(self) -> bool:
        """Whether traffic and disposition would be what they are."""
        return (self.then.traffic, self.then.disposition) == (
            self.now.traffic,
            self.now.disposition,
        )


def facts_of(defect: Defect, on: date) -> Facts:
    """What the rules look at, as known on a day; the defect comes ``with_place``."""
    case = cases_for([defect], max(on, defect.reported_on))[0]
    territory = defect.turnout.territory.pk
    sets = rules_by_territory({territory})[territory]
    return Facts(defect, case, sets, values_of(case, sets))


def what_if(facts: Facts, name: str, mm: Decimal) -> WhatIf:
    """The answer if the value of this name were ``mm``.

    Refused for a name no rule looks at, and for a length below zero or beyond any turnout.
    """
    of = facts.value(name)
    if not 0 <= mm <= LONGEST_MM:
        raise Refused(f"{of.label} of {mm} mm cannot be; ask for 0 to {LONGEST_MM} mm.")
    return WhatIf(
        of=of,
        mm=mm,
        then=facts.judged(turned(facts.case, of, mm)),
        now=facts.judged(facts.case),
        bands=bands(facts.case, of, facts.judged),
    )


@dataclass(frozen=True)
class Change:
    """A turning point with the value as it is and how sure that is, for people to read."""

    point: TurningPoint
    uncertainty: Decimal
    by: str

    @property
    def away_mm(self) -> Decimal | None:
        return None if self.point.now is None else abs(self.point.value - self.point.now)

    @property
    def in_doubt(self) -> bool:
        """Whether a finer reading alone could change the answer."""
        return self.away_mm is not None and self.away_mm <= self.uncertainty


def changes_of(facts: Facts) -> Sequence[Change]:
    """Which measurement would change the answer, the nearest first."""
    doubts = {one.name: one.uncertainty for one in facts.values}
    found = [
        Change(point, doubts.get(_name(point), Decimal(0)), rules.title)
        for rules in facts.sets
        for point in turning_points(facts.case, rules)
    ]
    return sorted(found, key=lambda c: (c.away_mm is not None, c.away_mm or 0))


def _name(point: TurningPoint) -> str:
    return point.quantity.value if point.quantity is not None else f"defect_{point.part}"
