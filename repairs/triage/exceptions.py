"""Where the law eases a limit: heavy-point frogs and flange-bearing frogs."""

from dataclasses import dataclass
from decimal import Decimal

from repairs.triage.decision import Missing
from repairs.triage.facts import Case
from repairs.triage.indexed import links
from repairs.triage.rows import ExceptionCondition, ExceptionRow, LimitRow
from repairs.triage.rules import RuleSet
from turnouts.analysis.terms import FrogDesign


@dataclass(frozen=True, slots=True)
class Easing:
    """The limit of a row for one class after its exceptions, in mm, and the clause to cite.

    ``missing`` names the facts that would decide an exception that could not be granted.
    """

    limit: Decimal
    lifted: bool
    clause: str
    missing: tuple[Missing, ...] = ()


def eased(row: LimitRow, case: Case, rules: RuleSet, track_class: int) -> Easing:
    """The limit that holds on a class of track. An exception with a fact missing is not granted."""
    strict = Easing(row.limit_for(track_class), False, row.clause)
    for exception in links(rules).eased_by.get(row.rule, ()):
        if track_class not in exception.classes:
            continue
        unmet, unknown = _conditions(exception, case)
        if unmet:
            continue
        if unknown:
            why = f"{exception.clause} eases {row.title.lower()} only when it is known"
            asked = tuple(Missing(None, what, why, blocks=False) for what in unknown)
            strict = Easing(strict.limit, False, row.clause, asked)
            continue
        clause = f"{row.clause} as eased by {exception.clause}"
        if exception.value is None:
            return Easing(strict.limit, True, clause)
        return Easing(exception.value, False, clause)
    return strict


def _conditions(row: ExceptionRow, case: Case) -> tuple[bool, list[str]]:
    """Whether a condition is known not to be met, and the conditions nobody recorded."""
    facts = _FACTS[row.condition](row, case)
    return False in facts.values(), [name for name, fact in facts.items() if fact is None]


def _heavy_point(row: ExceptionRow, case: Case) -> dict[str, bool | None]:
    heavy = case.component.heavy_point
    if heavy is None:
        return {"a heavy-point frog": False}
    plates, least = heavy.through_gage_plates, row.min_through_gage_plates or 0
    return {
        "the frog's mark as a heavy-point frog": heavy.marked,
        "the number of serviceable through-gage plates": None
        if plates is None
        else plates >= least,
        "whether the through-gage plates have elastic fasteners": heavy.elastic_fasteners,
        "whether the guard rail braces on both rails adjust without drawing spikes": (
            heavy.adjustable_braces_both_rails
        ),
    }


def _flange_bearing(_row: ExceptionRow, case: Case) -> dict[str, bool | None]:
    design = case.component.design
    return {"the design of the frog": None if design is None else design is FLANGE_BEARING}


def _flange_bearing_diamond(row: ExceptionRow, case: Case) -> dict[str, bool | None]:
    facts = _flange_bearing(row, case)
    angle, movable = case.component.crossing_angle_deg, case.component.movable_guard_rails
    if angle is None:
        facts["the crossing angle, if the frog is in a crossing diamond"] = None
    elif angle <= (row.angle_over_deg or Decimal(0)):
        facts["whether the crossing diamond has movable guard rails"] = movable
    return facts


FLANGE_BEARING = FrogDesign.FLANGE_BEARING
_FACTS = {
    ExceptionCondition.HEAVY_POINT: _heavy_point,
    ExceptionCondition.FLANGE_BEARING: _flange_bearing,
    ExceptionCondition.FLANGE_BEARING_DIAMOND: _flange_bearing_diamond,
}
