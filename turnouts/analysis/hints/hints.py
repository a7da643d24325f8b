"""Hints at the cause of a component's defects: what rules of the trade find beside each of them.

A hint says where to look; it proves nothing, and a qualified person decides. Where a rule would
speak but what it asks for was never measured, that is said too.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from turnouts.analysis.hints.rules import (
    HintRule,
    NeedBeside,
    NeedReading,
    NeedWeld,
    rules_on,
)
from turnouts.analysis.showing import METRIC, UnitPreference, show, show_against
from turnouts.analysis.terms import ComponentKind, DefectKind, Quantity, Steel, Zone
from turnouts.analysis.units import Dimension


@dataclass(frozen=True, slots=True)
class DefectFact:
    """A defect found on the component, or beside it on the turnout, at its tonnage in MGT."""

    reference: str
    kind: DefectKind
    zone: Zone
    mgt: float
    on: date


@dataclass(frozen=True, slots=True)
class ReadingFact:
    """The newest reading of a quantity, with the limit the rules set it there, in mm.

    ``least`` when the limit is one not to go below. ``limit_mm`` is ``None`` without a limit.
    """

    reference: str
    quantity: Quantity
    value_mm: Decimal
    limit_mm: Decimal | None
    least: bool
    on: date


@dataclass(frozen=True, slots=True)
class WeldFact:
    """A weld repair: its hottest recorded pass and the procedure's limit, both in degC."""

    reference: str
    zone: Zone
    mgt: float
    on: date
    steel: Steel
    hottest_pass_degc: Decimal | None
    pass_limit_degc: Decimal | None


@dataclass(frozen=True, slots=True)
class ComponentFacts:
    """What is known of one component. ``beside`` are defects of its neighbours on the turnout."""

    key: str
    kind: ComponentKind
    defects: tuple[DefectFact, ...]
    beside: tuple[DefectFact, ...] = ()
    readings: tuple[ReadingFact, ...] = ()
    welds: tuple[WeldFact, ...] = ()


@dataclass(frozen=True, slots=True)
class Hint:
    """One rule that speaks of one defect, with what was found and what to look at next."""

    rule: HintRule
    defect: DefectFact
    evidence: tuple[str, ...]
    look_next: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Unanswered:
    """A rule that cannot speak because something was not measured or recorded."""

    rule: HintRule
    defect: DefectFact
    sentence: str


@dataclass(frozen=True, slots=True)
class Hints:
    """All hints of a component, newest defect first, and what is missing for more."""

    hints: tuple[Hint, ...]
    unanswered: tuple[Unanswered, ...]
    sentence: str


def hints_for(facts: ComponentFacts, on: date, units: UnitPreference = METRIC) -> Hints:
    """What the rules in force on a day say of a component's defects, in the reader's units."""
    found: list[Hint] = []
    missing: list[Unanswered] = []
    for defect in sorted(facts.defects, key=lambda d: (d.on, d.reference), reverse=True):
        for rule in rules_on(on):
            if _speaks_of(rule, facts.kind, defect):
                evidence, lacking = _looked_for(rule, facts, defect, units)
                if evidence:
                    found.append(_hint(rule, defect, evidence))
                elif lacking:
                    missing.append(Unanswered(rule, defect, lacking))
    return Hints(tuple(found), tuple(missing), _sentence(found, facts))


def _speaks_of(rule: HintRule, kind: ComponentKind, defect: DefectFact) -> bool:
    return (
        defect.kind in rule.defects
        and (not rule.zones or defect.zone in rule.zones)
        and (not rule.components or kind in rule.components)
    )


def _looked_for(
    rule: HintRule, facts: ComponentFacts, defect: DefectFact, units: UnitPreference
) -> tuple[tuple[str, ...], str]:
    """The evidence for a rule, or, where there can be none, what is missing."""
    match rule.need:
        case NeedReading():
            return _by_reading(rule.need, facts.readings, units)
        case NeedBeside():
            return _by_neighbours(rule.need, (*facts.defects, *facts.beside), defect), ""
        case NeedWeld():
            return _by_weld(rule.need, facts.welds, defect, units)


def _by_reading(
    need: NeedReading, readings: Sequence[ReadingFact], units: UnitPreference
) -> tuple[tuple[str, ...], str]:
    named = need.quantity.label.lower()
    known = [r for r in readings if r.quantity is need.quantity]
    if not known:
        return (), f"Nobody has measured {named} here; measure it."
    if all(r.limit_mm is None for r in known):
        return (), f"There is no limit of {named} to judge by here."
    said = (_tight(need, r, r.limit_mm, units) for r in known if r.limit_mm is not None)
    return tuple(text for text in said if text), ""


def _tight(need: NeedReading, reading: ReadingFact, limit: Decimal, units: UnitPreference) -> str:
    """What speaks for the rule in one reading, empty when nothing does."""
    spare = reading.value_mm - limit if reading.least else limit - reading.value_mm
    if spare > need.margin_mm:
        return ""
    length = Dimension.LENGTH
    shown, bound = show_against(reading.value_mm, limit, length, units)
    inside = f"{show(spare, length, units)} inside" if spare > 0 else "just at"
    stands = f"{'past' if spare < 0 else inside} its limit {bound}"
    return f"{need.quantity.label} {shown} on {reading.on} ({reading.reference}), {stands}."


def _by_neighbours(
    need: NeedBeside, defects: Iterable[DefectFact], defect: DefectFact
) -> tuple[str, ...]:
    return tuple(
        f"{other.kind.label} at the {other.zone.label.lower()} on {other.on} ({other.reference})."
        for other in defects
        if other.reference != defect.reference
        and other.kind in need.kinds
        and -need.before_mgt <= other.mgt - defect.mgt <= need.after_mgt
    )


def _by_weld(
    need: NeedWeld, welds: Sequence[WeldFact], defect: DefectFact, units: UnitPreference
) -> tuple[tuple[str, ...], str]:
    recent = [
        weld
        for weld in welds
        if weld.zone is defect.zone
        and weld.steel in need.steels
        and 0 <= defect.mgt - weld.mgt <= need.within_mgt
    ]
    said = [_hot(need, weld, defect, units) for weld in recent]
    evidence = tuple(text for text in said if text)
    unrecorded = [w for w in recent if w.hottest_pass_degc is None or w.pass_limit_degc is None]
    if evidence or not unrecorded:
        return evidence, ""
    weld = unrecorded[0]
    return (), (
        f"The weld of {weld.on} ({weld.reference}) lasted {defect.mgt - weld.mgt:.0f} MGT, but its "
        "pass temperatures were not recorded; ask, and record them the next time."
    )


def _hot(need: NeedWeld, weld: WeldFact, defect: DefectFact, units: UnitPreference) -> str:
    hottest, limit = weld.hottest_pass_degc, weld.pass_limit_degc
    if hottest is None or limit is None or hottest - limit < need.hotter_by_degc:
        return ""
    passed, allowed = show_against(hottest, limit, Dimension.TEMPERATURE, units)
    return (
        f"Weld of {weld.on} ({weld.reference}), {defect.mgt - weld.mgt:.0f} MGT before: hottest "
        f"pass {passed}, limit {allowed}."
    )


def _hint(rule: HintRule, defect: DefectFact, evidence: tuple[str, ...]) -> Hint:
    said = (
        f"{rule.title}? {defect.kind.label} at the {defect.zone.label.lower()} "
        f"({defect.reference}). {' '.join(evidence)}"
    )
    return Hint(rule, defect, evidence, rule.look_next, said)


def _sentence(found: Sequence[Hint], facts: ComponentFacts) -> str:
    if not facts.defects:
        return f"{facts.key} has no defects to explain."
    if not found:
        return f"No rule finds a cause of the {len(facts.defects)} defects in what is recorded."
    titles = dict.fromkeys(hint.rule.title for hint in found)
    return f"Worth a look: {'; '.join(titles)}. A hint is no finding; look before deciding."
