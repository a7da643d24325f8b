"""Components as members of a family that is split by a fact: what is known of each, in few queries.

Facts are of component, place and work; who welded or inspected is not read.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date

from django.db.models import QuerySet

from turnouts.analysis.ranking.comparison import Member
from turnouts.analysis.recurrence.life_regression import Repair
from turnouts.analysis.recurrence.log_rank import By
from turnouts.analysis.terms import Quantity
from turnouts.analysis.wear.group_rates import Worn, worn_of
from turnouts.analysis.wear.runs import Run
from turnouts.models import Component, Line
from turnouts.services.component_file import with_history
from turnouts.services.component_rows import Life, lives_of
from turnouts.services.repair_lives import Repaired, repaired_of
from turnouts.weld_records import Passes, weld_passes

LEAST_SD_MM = 0.1
"""Scatter below which no reading is doubted (assumed: half of what a gauge in track can tell)."""

MONTHS = {
    **dict.fromkeys((12, 1, 2), "December to February"),
    **dict.fromkeys((3, 4, 5), "March to May"),
    **dict.fromkeys((6, 7, 8), "June to August"),
    **dict.fromkeys((9, 10, 11), "September to November"),
}


def members_of(rows: QuerySet[Component], begins: date | None, on: date) -> list[Member]:
    """Components of one kind, design and steel, as of the end of a day; without those whose
    tonnage is not known."""
    lives = list(lives_of(with_history(rows), on)[0].values())
    passes = weld_passes([f.pk for life in lives for f in life.defects if f.repaired_on])
    worn = _worn(lives)
    return [_member(life, begins, on, passes, worn) for life in lives]


def _member(
    life: Life,
    begins: date | None,
    on: date,
    passes: Mapping[int, Passes],
    worn: Mapping[Quantity, Mapping[str, Worn]],
) -> Member:
    part = life.component
    facts = facts_of(part)
    return Member(
        key=part.serial,
        like=f"{part.design} {part.steel}",
        facts=facts,
        history=life.history(begins, on),
        repairs=[
            Repair(one.life, facts | _facts_of_repair(one, passes.get(one.found.pk)))
            for one in repaired_of(life, on)
        ],
        wear={
            quantity: by_serial[part.serial]
            for quantity, by_serial in worn.items()
            if part.serial in by_serial
        },
    )


def facts_of(part: Component) -> dict[By, str]:
    """What is known of a component, with installations and places prefetched."""
    facts = {By.STEEL: part.get_steel_display(), By.DESIGN: part.get_design_display()}
    facts[By.RAIL_SECTION] = part.rail_section
    if part.made_on is not None:
        half = "January to June" if part.made_on.month <= 6 else "July to December"
        facts[By.BATCH] = f"{part.made_on.year} {half}"
    if part.heavy_point_mark is not None:
        facts[By.HEAVY_POINT] = "heavy point" if part.heavy_point_mark else "no heavy point"
    last = max(part.installations.all(), key=lambda stay: stay.installed_on, default=None)
    if last is not None:
        line = last.turnout.track.line
        facts |= {By.LINE: named_line(line), By.TERRITORY: line.territory.name}
    return {by: fact for by, fact in facts.items() if fact}


def named_line(line: Line) -> str:
    """A line as a group is named by it; names alone may be used twice."""
    return f"{line.code} {line.name}"


def _facts_of_repair(one: Repaired, passes: Passes | None) -> dict[By, str]:
    facts = {
        By.DEFECT_KIND: one.found.fact.kind.label,
        By.ZONE: one.found.fact.zone.label,
        By.SEASON: MONTHS[one.on.month],
    }
    if passes is not None:
        facts[By.PROCEDURE] = passes.procedure
        if passes.hottest_degc is not None and passes.limit_degc is not None:
            hot = passes.hottest_degc > passes.limit_degc
            facts[By.HEAT] = "hotter than its limit" if hot else "within its limit"
    return facts


def _worn(lives: Sequence[Life]) -> dict[Quantity, dict[str, Worn]]:
    runs: dict[Quantity, dict[str, list[Run]]] = defaultdict(lambda: defaultdict(list))
    for life in lives:
        for place in life.readings:
            runs[place[0]][life.component.serial] += life.runs(place)
    return {quantity: worn_of(by_serial, LEAST_SD_MM) for quantity, by_serial in runs.items()}
