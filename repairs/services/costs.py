"""What a defect costs: each day it slows trains, and over the life of each way of repairing it."""

from dataclasses import dataclass, replace
from datetime import date

from django.conf import settings

from repairs.services.standing import Standing
from repairs.services.what_if import Facts
from repairs.services.worth import trains_by_turnout
from repairs.triage.break_even import BreakEven, break_evens
from repairs.triage.decision import Decision, Traffic, TrafficKind
from repairs.triage.life_cost import GROUPS, LifeCost, Line, life_cost
from repairs.triage.priority import PRICES, TEN_MPH_KMH, Worth, price, worth_per_day
from repairs.triage.rules import federal_rules
from repairs.triage.slow_order import Train
from repairs.triage.speed_profile import SpeedProfile, speed_profile
from turnouts.analysis.dated import UNPUBLISHED, Dated, read_dated
from turnouts.analysis.terms import Disposition
from turnouts.models import Defect, Turnout
from turnouts.models import Traffic as TrafficRow

SLOW_ORDER = (
    "train_hour",
    "train_length",
    "braking",
    "acceleration",
    "restricted_length",
    "stopped_day",
    "daily_chance_of_restriction",
)


@dataclass(frozen=True)
class Assumed:
    """A price in force with the mark of where it comes from."""

    row: Dated
    source: str

    @property
    def name(self) -> str:
        return self.row.name.replace("_", " ")

    @property
    def published(self) -> bool:
        return self.row.source not in UNPUBLISHED


@dataclass(frozen=True)
class SlowOrderCost:
    """Money a day with its reason, as the planner's priority; the run of one train where it slows.

    ``supposed`` is set where no restriction holds and the run is that of 10 mph, should it come.
    """

    worth: Worth
    trains_per_day: float
    minutes: float
    profile: SpeedProfile | None
    supposed: bool
    assumed: tuple[Assumed, ...]


@dataclass(frozen=True)
class LifeCosts:
    """The ways of repairing side by side, or the sentence why there is nothing to compare."""

    cost: LifeCost | None
    line: Line | None
    interest: float
    turning: tuple[BreakEven, ...]
    assumed: tuple[Assumed, ...]
    why_not: str = ""


def as_held(decided: Decision, holds: Standing | None) -> Decision:
    """The answer to reckon with: that of the rules, with an engineer's word over it if one holds.

    Traffic and disposition are taken from the word; the findings, and with them what the law
    closes, stay those of the rules.
    """
    if holds is None or holds.overrule is None:
        return decided
    said = Traffic(TrafficKind(holds.traffic), None, None, holds.speed_kmh)
    return replace(
        decided,
        traffic=decided.traffic if holds.machines_traffic else said,
        disposition=Disposition(holds.disposition),
    )


def slow_order_cost(defect: Defect, decision: Decision, on: date) -> SlowOrderCost:
    """What the answer costs a day, by the rates in force; the defect comes ``with_place``."""
    trains = trains_by_turnout([defect.turnout_id], on).get(defect.turnout_id, 0.0)
    line_kmh = float(defect.turnout.speed_through_kmh)
    traffic = decision.traffic
    restricted = traffic.kind is TrafficKind.RESTRICTED and traffic.speed_kmh is not None
    slow_kmh = float(traffic.speed_kmh) if restricted and traffic.speed_kmh else TEN_MPH_KMH
    profile = None
    if 0 < slow_kmh < line_kmh and traffic.kind is not TrafficKind.STOP:
        train = Train(price("train_length", on), price("braking", on), price("acceleration", on))
        profile = speed_profile(line_kmh, slow_kmh, price("restricted_length", on), train)
    return SlowOrderCost(
        worth=worth_per_day(traffic, line_kmh=line_kmh, trains_per_day=trains, growing=True, on=on),
        trains_per_day=trains,
        minutes=profile.lost_s / 60 if profile else 0.0,
        profile=profile,
        supposed=not restricted,
        assumed=assumed_rows(SLOW_ORDER, on),
    )


def life_costs(facts: Facts, decision: Decision, on: date) -> LifeCosts:
    """Weld in track, weld in the shop and replace as equal cost a year, and where that turns."""
    interest = price("interest", on)
    kind = facts.case.component.kind
    try:
        line = line_at(facts.defect.turnout, on)
        cost = life_cost(decision, kind, line, on, access=_access(facts))
    except ValueError as refusal:
        return LifeCosts(None, None, interest, (), (), str(refusal))
    group, ways = GROUPS[kind]
    names = [
        "interest",
        "follow_up_grinding",
        *(f"{group}_{way.value}_{what}" for way in ways for what in ("price", "life")),
        *(f"{way.value}_{what}" for way in ways for what in ("failure_chance", "wait")),
    ]
    turning = break_evens(cost, line, interest)
    return LifeCosts(cost, line, interest, turning, assumed_rows(names, on))


def _access(facts: Facts) -> bool | None:
    return facts.case.defect.access if facts.case.defect is not None else None


def line_at(turnout: Turnout, on: date) -> Line:
    """What runs over the turnout, both routes together, by the newest count of each.

    ValueError where no tonnage is counted there.
    """
    rows = TrafficRow.objects.filter(turnout=turnout, since__lte=on).order_by("since")
    newest = {row.route: row for row in rows}
    return Line(
        mgt_per_year=float(sum(row.annual_mgt for row in newest.values())),
        line_kmh=float(turnout.speed_through_kmh),
        trains_per_day=float(sum(row.trains_per_day for row in newest.values())),
        currency=settings.CURRENCY,
    )


def assumed_rows(names: tuple[str, ...] | list[str], on: date) -> tuple[Assumed, ...]:
    """The rows in force of these names, in this order, with the titles of their sources."""
    begun = [row for row in read_dated(PRICES) if row.start <= on]
    newest = {row.name: row for row in sorted(begun, key=lambda row: row.start)}
    sources = federal_rules().sources
    return tuple(
        Assumed(row, row.source if row.source in UNPUBLISHED else sources[row.source].title)
        for name in names
        if (row := newest.get(name)) is not None
    )
