"""Weld in track, weld in the shop or replace: what each costs a year over the life it gives.

The choice itself stays with the railway's lines of choice and the law; this stands beside it and
says where money would have it otherwise. Prices are dated rows in ``rules/prices.toml``.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from repairs.triage.decision import Decision, Traffic, TrafficKind
from repairs.triage.equal_annual import Flow, equal_annual_cost, present_worth
from repairs.triage.priority import price, worth_per_day
from repairs.triage.read import RAILWAYS_OWN
from repairs.triage.together import PAST
from repairs.triage.traffic import traffic_of
from turnouts.analysis.showing import said_money
from turnouts.analysis.terms import ComponentKind, Disposition

WAYS = (Disposition.WELD_IN_TRACK, Disposition.WELD_IN_SHOP, Disposition.REPLACE)

GROUPS: dict[ComponentKind, tuple[str, tuple[Disposition, ...]]] = {
    ComponentKind.FROG: ("frog", WAYS),
    ComponentKind.SWITCH_POINT: ("switch_point", (WAYS[0], WAYS[2])),
    ComponentKind.STOCK_RAIL: ("rail", (WAYS[0], WAYS[2])),
    ComponentKind.CLOSURE_RAIL: ("rail", (WAYS[0], WAYS[2])),
}
"""The prices a component goes by, and the ways of repairing it that are compared."""

GRINDING_YEARS = (0.25, 0.5)
"""When flow at a new or welded edge is ground off; common practice for manganese castings."""


@dataclass(frozen=True, slots=True)
class Line:
    """What the line costs while it is slowed: its tonnage in MGT a year, speed and trains.

    ``currency`` is that of the railway's prices, by the letters of ISO 4217.
    """

    mgt_per_year: float
    line_kmh: float
    trains_per_day: float
    currency: str

    def __post_init__(self) -> None:
        if self.mgt_per_year <= 0 or self.trains_per_day < 0 or self.line_kmh <= 0:
            raise ValueError(
                "A life in tonnage needs tonnage above zero, a line speed above zero and trains a "
                "day not below zero. Correct the traffic of the turnout."
            )


@dataclass(frozen=True, slots=True)
class Way:
    """One way of repairing: money, life in MGT, chance of failing soon, and days of waiting.

    ``waiting`` and ``failing`` are what a day costs before the work and after a failure.
    """

    disposition: Disposition
    price: float
    life_mgt: float
    failure_chance: float
    wait_days: float
    waiting: float
    failing: float
    grinding: float

    def __post_init__(self) -> None:
        if not 0 <= self.failure_chance < 1:
            raise ValueError(f"A chance of failing of {self.failure_chance} is not 0 to under 1.")

    def flows(self) -> tuple[Flow, ...]:
        """What is paid and when. Each failure is done over at the same price after the same wait,
        so that a chance p brings p / (1 - p) repetitions; they come soon and count as now.
        """
        again = self.failure_chance / (1 - self.failure_chance)
        first = self.price * (1 + again)
        slowed = self.wait_days * (self.waiting + again * self.failing)
        later = (Flow(year, self.grinding) for year in GRINDING_YEARS)
        return (Flow(0, first + slowed), *later)


@dataclass(frozen=True, slots=True)
class OptionCost:
    """One way with its cost a year; ``open`` is false where law or access leave other ways only."""

    way: Way
    years: float
    present_worth: float
    equal_annual: float
    open: bool
    reason: str


@dataclass(frozen=True, slots=True)
class LifeCost:
    """The ways compared, the cheapest first, and whether the decision is the cheapest.

    ``saving`` is what the cheapest open way saves a year against the way decided on.
    """

    options: tuple[OptionCost, ...]
    cheapest: Disposition
    agrees: bool
    saving: float
    sentence: str


def life_cost(
    decision: Decision, kind: ComponentKind, line: Line, on: date, *, access: bool | None = None
) -> LifeCost:
    """The ways of repairing a component compared at the prices in force on a day.

    ``access`` false closes welding in track; where nobody recorded it that way stays open.
    ValueError for a decision that does not choose among them, or a component they do not fit;
    DatedError when a price is missing.
    """
    group, ways = group_of(kind)
    if decision.disposition not in ways:
        raise ValueError(
            f"The decision is to {decision.disposition.label.lower()}; there are no ways of "
            "welding or replacing to compare. Ask again when it is one of them."
        )
    interest = price("interest", on)
    closed = _closed_by_law(decision)
    costs = [
        cost_of(
            way_for(group, way, decision.traffic, line, on),
            line,
            interest,
            closed or _closed_by_place(way, access),
        )
        for way in ways
    ]
    return _compared(
        decision, sorted(costs, key=lambda o: (not o.open, o.equal_annual)), line.currency
    )


def way_for(group: str, way: Disposition, traffic: Traffic, line: Line, on: date) -> Way:
    """A way of repairing at the prices of a day, for a component group such as ``frog``.

    A stop counts as the 10 mph that a designated person may allow until it is put right, and so
    does a failure of the work.
    """
    named = f"{group}_{way.value}"
    ten_mph = traffic_of(TrafficKind.RESTRICTED, Decimal(10), Decimal(10))

    def per_day(state: Traffic) -> float:
        return worth_per_day(
            state,
            line_kmh=line.line_kmh,
            trains_per_day=line.trains_per_day,
            growing=False,
            on=on,
        ).per_day

    return Way(
        disposition=way,
        price=price(f"{named}_price", on),
        life_mgt=price(f"{named}_life", on),
        failure_chance=price(f"{way.value}_failure_chance", on),
        wait_days=price(f"{way.value}_wait", on),
        waiting=per_day(ten_mph if traffic.kind is TrafficKind.STOP else traffic),
        failing=per_day(ten_mph),
        grinding=price("follow_up_grinding", on),
    )


def cost_of(way: Way, line: Line, interest: float, closed: str = "") -> OptionCost:
    """What one way costs a year; ``closed`` says why the way is not open."""
    years = way.life_mgt / line.mgt_per_year
    annual = equal_annual_cost(way.flows(), interest, years)
    is_open = not closed or way.disposition is Disposition.REPLACE
    yearly, once, waiting = (
        said_money(amount, line.currency) for amount in (annual, way.price, way.waiting)
    )
    said = (
        f"{way.disposition.label}: {yearly} a year over {years:.1f} years ({once}, "
        f"{way.life_mgt:g} MGT, {way.failure_chance:.0%} chance of doing it over, "
        f"{way.wait_days:g} days of waiting at {waiting} a day)"
    )
    return OptionCost(
        way=way,
        years=years,
        present_worth=present_worth(way.flows(), interest),
        equal_annual=annual,
        open=is_open,
        reason=f"{said}." if is_open else f"{said}. Not open: {closed}",
    )


def group_of(kind: ComponentKind) -> tuple[str, tuple[Disposition, ...]]:
    """The prices of a kind of component and its ways; ValueError for one nobody welds."""
    if kind not in GROUPS:
        known = ", ".join(k.label.lower() for k in GROUPS)
        raise ValueError(
            f"A {kind.label.lower()} is set or changed, so there is nothing to compare. "
            f"Costs over the life are kept for {known}."
        )
    return GROUPS[kind]


def _closed_by_law(decision: Decision) -> str:
    """The sentence of a clause that leaves only replacement, empty when there is none."""
    for finding in decision.findings:
        replaced = finding.disposition is Disposition.REPLACE and finding.outcome in PAST
        if replaced and not finding.clause.startswith(RAILWAYS_OWN):
            return finding.sentence
    return ""


def _closed_by_place(way: Disposition, access: bool | None) -> str:
    if way is Disposition.WELD_IN_TRACK and access is False:
        return "a welder cannot get at the place with the part in track."
    return ""


def _compared(decision: Decision, options: list[OptionCost], currency: str) -> LifeCost:
    best = options[0]
    decided = next(o for o in options if o.way.disposition is decision.disposition)
    saving = decided.equal_annual - best.equal_annual
    agrees = decided is best
    cheapest = best.way.disposition
    if agrees:
        said = f"{cheapest.label} is also the cheapest over the life: {best.reason}"
    else:
        said = (
            f"By the rules: {decision.disposition.label.lower()}, {decision.disposition_reason}. "
            f"By cost alone {cheapest.label.lower()} would be {said_money(saving, currency)} a "
            "year cheaper. The rules stand; the engineer decides."
        )
    return LifeCost(tuple(options), cheapest, agrees, saving, said)
