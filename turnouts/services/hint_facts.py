"""What hints at a cause look at: readings at the turnout, neighbours' defects, recorded welds."""

from collections.abc import Sequence
from datetime import date

from django.db.models import Q
from django.utils import timezone

from turnouts.analysis.hints.hints import ComponentFacts, DefectFact, ReadingFact, WeldFact
from turnouts.analysis.hints.rules import NeedReading, rules_on
from turnouts.analysis.terms import ComponentKind, DefectKind, Quantity, Steel, Zone
from turnouts.analysis.wear.resets import METAL_LOST
from turnouts.models import Defect, Measurement, Turnout
from turnouts.services.component_rows import Life
from turnouts.wear_limits import WearLimit
from turnouts.weld_records import weld_passes


def facts_of(
    life: Life, turnout: Turnout | None, limits: Sequence[WearLimit], on: date
) -> ComponentFacts:
    """The facts of one component as known on a day; three queries."""
    return ComponentFacts(
        key=life.component.serial,
        kind=ComponentKind(life.component.kind),
        defects=tuple(found.fact for found in life.defects),
        beside=_beside(life, on),
        readings=_readings(life, turnout, limits, on) if turnout else (),
        welds=_welds(life),
    )


def _beside(life: Life, on: date) -> tuple[DefectFact, ...]:
    """Defects of its neighbours while it stood there, at its own tonnage."""
    where = {stay.turnout_id: stay for stay in life.component.installations.all()}
    rows = (
        Defect.objects.filter(turnout__in=where, reported_on__lte=on)
        .exclude(component=life.component)
        .values_list("reference", "kind", "zone", "inspection__inspected_at", "reported_on")
        .order_by("reported_on", "reference")
    )
    facts = []
    for reference, kind, zone, seen, day in rows:
        mgt = life.clock.at(seen)
        if mgt is not None:
            facts.append(DefectFact(reference, DefectKind(kind), Zone(zone), mgt, day))
    return tuple(facts)


def _readings(
    life: Life, turnout: Turnout, limits: Sequence[WearLimit], on: date
) -> tuple[ReadingFact, ...]:
    """The newest reading of each quantity and route that a rule asks for, with its limit."""
    wanted = {rule.need.quantity for rule in rules_on(on) if isinstance(rule.need, NeedReading)}
    rows = (
        Measurement.objects.filter(
            Q(component=life.component) | Q(component__isnull=True),
            inspection__turnout=turnout,
            inspection__inspected_at__date__lte=on,
            quantity__in=[quantity.value for quantity in wanted],
        )
        .select_related("inspection")
        .order_by("inspection__inspected_at", "id")
    )
    newest = {(row.quantity, row.route): row for row in rows}
    return tuple(_reading(row, limits) for row in newest.values())


def _reading(row: Measurement, limits: Sequence[WearLimit]) -> ReadingFact:
    limit = next((one for one in limits if one.quantity.value == row.quantity), None)
    route = f", {row.route}" if row.route else ""
    return ReadingFact(
        reference=f"{row.inspection.reference}{route}",
        quantity=Quantity(row.quantity),
        value_mm=row.value,
        limit_mm=limit.mm if limit else None,
        least=limit.least if limit else True,
        on=timezone.localdate(row.inspection.inspected_at),
    )


def _welds(life: Life) -> tuple[WeldFact, ...]:
    """Repairs of lost metal; nothing where the steel is not noted, for a rule goes by it."""
    if not life.component.steel:
        return ()
    lost = [found for found in life.defects if found.fact.kind in METAL_LOST and found.repaired_on]
    passes = weld_passes([found.pk for found in lost])
    return tuple(
        WeldFact(
            reference=found.fact.reference,
            zone=found.fact.zone,
            mgt=mgt,
            on=day,
            steel=Steel(life.component.steel),
            hottest_pass_degc=passes[found.pk].hottest_degc if found.pk in passes else None,
            pass_limit_degc=passes[found.pk].limit_degc if found.pk in passes else None,
        )
        for found in lost
        for mgt, day in zip(found.repaired_mgt, found.repaired_on, strict=True)
    )
