"""What the finished repair is judged against: gages and profile, and the penetrant test."""

from dataclasses import asdict
from datetime import date
from typing import Any

from repairs.field.events import Shape
from repairs.field.indications import NONE_ALLOWED, longest_mm
from repairs.services.facts import cases_for
from repairs.services.territory_rules import rules_by_territory
from repairs.triage.exceptions import eased
from repairs.triage.facts import EXCEPTED, HIGHEST_CLASS, Case
from repairs.triage.rows import Compare, LimitRow
from repairs.triage.rules import RuleSet, rules_in_force
from repairs.triage.words import said_length
from repairs.welding.procedures import Procedure
from repairs.welding.rows_toml import table_of
from turnouts.models import Defect

SIDE = {
    Compare.NOT_MORE_THAN: "at most",
    Compare.NOT_LESS_THAN: "at least",
    Compare.LESS_THAN: "less than",
}
NO_INDICATION = "No line and no open hole may show."
BEYOND = "stop, mark it, write it down and ask the qualified person."
ONLY_OPEN = (
    "Penetrant finds only what is open to the surface. A clean test says nothing about what lies "
    "below it."
)


def limits_for(defect: Defect, on: date) -> list[dict[str, Any]]:
    """The limits that final readings are held against, for the component and its class of track.

    Of every rule set that the territory stands under: all of them must be met. Where the class is
    not recorded, those of the highest class are taken, the strictest.
    """
    case = cases_for([defect], on)[0]
    territory = defect.turnout.territory.pk
    sets = [rules_in_force(rules, on) for rules in rules_by_territory([territory])[territory]]
    said = (
        _said(row, case, rules)
        for rules in sets
        for row in rules.limits
        if row.quantity is not None and row.where.speaks_of_component(case.component) is not False
    )
    kept: list[dict[str, Any]] = []
    for limit in said:
        if limit is not None and limit not in kept:  # a row that several sets share, once
            kept.append(limit)
    return kept


def _said(row: LimitRow, case: Case, rules: RuleSet) -> dict[str, Any] | None:
    """One limit in words, or None where an exception lifts it."""
    track_class = _judged_class(case, rules)
    easing = eased(row, case, rules, track_class)
    if easing.lifted:
        return None
    return {
        "title": row.title,
        "quantity": row.quantity.value if row.quantity else "",
        "compare": row.compare.value,
        "limit_mm": str(easing.limit),
        "limit": f"{SIDE[row.compare]} {said_length(easing.limit)}",
        "clause": easing.clause,
        "checked": row.checked,
        "class": track_class,
    }


def _judged_class(case: Case, rules: RuleSet) -> int:
    if case.track.track_class == EXCEPTED:
        return rules.setting("excepted_judged_as_class").number
    return case.track.track_class or HIGHEST_CLASS


def penetrant(procedure: Procedure | None) -> dict[str, Any] | None:
    """Times and temperatures of the penetrant test; None for a job without welding."""
    if procedure is None:
        return None
    settings = procedure.settings
    times = {
        name: value
        for name, value in asdict(settings).items()
        if name.startswith(("penetrant_", "developing_"))
    }
    sources = {name: _source(procedure, name) for name in times}
    rows = table_of("field", "penetrant")
    return (
        times
        | {
            "lowest_degc": rows.number("lowest_degc"),
            "read_before_min": rows.number("read_before_min"),
            "sources": sources,
            "only_open": ONLY_OPEN,
            "only_open_source": "scope of ASTM E165",
        }
        | accepted_at(table_of("field", "indications")["accept_level"].text)
    )


def accepted_at(level: str) -> dict[str, Any]:
    """What may show: nothing, or what a level of ISO 23277 allows, in mm by shape."""
    if level == NONE_ALLOWED:
        said, most, source = f"{NO_INDICATION} Any indication: {BEYOND}", None, "common-practice"
    else:
        most = {shape.value: float(longest_mm()[(level, shape)]) for shape in Shape}
        said = (
            f"Level {level} of ISO 23277: a line of at most {most['linear']:g} mm, a round one of "
            f"at most {most['rounded']:g} mm. Anything longer: {BEYOND}"
        )
        source = "from-memory"
    return {
        "accept_level": level,
        "accept_mm": most,
        "linear_ratio": table_of("field", "indications").number("linear_ratio"),
        "accept": said,
        "accept_source": source,
    }


def _source(procedure: Procedure, name: str) -> str:
    row = procedure.rows[name]
    return ", ".join(part for part in (row.mark.value, row.clause) if part)
