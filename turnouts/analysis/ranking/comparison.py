"""A family split by one fact: defects, life of repairs and wear of each group against the others.

All looks of one comparison are corrected together after Holm. What is split is components and
their repairs; people are not among the facts (``By``).
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.many_looks import benjamini_hochberg, holm
from turnouts.analysis.ranking.groups import Groups, compare_groups
from turnouts.analysis.ranking.offenders import Observed
from turnouts.analysis.recurrence.failing import Failing, Repaired, failing_against_others
from turnouts.analysis.recurrence.histories import History, counted
from turnouts.analysis.recurrence.life_fits import likelier
from turnouts.analysis.recurrence.life_regression import Repair
from turnouts.analysis.recurrence.lives import Life, LifeFit, failures_of
from turnouts.analysis.recurrence.log_rank import OF_A_REPAIR, SIGNIFICANT, By
from turnouts.analysis.recurrence.mean_cumulative import MeanCumulative, Step, mean_cumulative
from turnouts.analysis.terms import Quantity, Term
from turnouts.analysis.wear.group_rates import Rate, Worn, differ, rate_of

LOT = 400
"""Components of a group whose defects make its mean cumulative function: the work grows with
components times defects, and so many settle it within a few parts in a hundred."""

STEPS_KEPT = 32
"""Steps of a mean cumulative function that are kept for its picture and table."""


class Measure(Term):
    """What groups are held against each other in."""

    DEFECTS = "defects"
    REPAIRS = "repairs"
    WEAR = "wear"


@dataclass(frozen=True, slots=True)
class Member:
    """One component of the family. ``like`` names those it is expected to do as well as.

    ``facts`` holds what is known of it; of its repairs each has its own. ``history`` is missing
    where no tonnage has passed since records began.
    """

    key: str
    like: str
    facts: Mapping[By, str]
    history: History | None
    repairs: Sequence[Repair]
    wear: Mapping[Quantity, Worn]


@dataclass(frozen=True, slots=True)
class Look:
    """One group against all others in one measure.

    ``value`` with 95 % limits is a ratio for defects and repairs (times the others), and mm a MGT
    for wear, where ``others`` is their rate. ``counted`` are defects, failed repairs or readings;
    ``of`` components or repairs. ``p`` is corrected for all looks of the comparison; ``q`` bounds
    the share of false ones among the findings of many comparisons, see ``over_all``.
    """

    measure: Measure
    quantity: str
    group: str
    counted: int
    of: int
    value: float
    low: float
    high: float
    others: float
    p_alone: float
    p: float
    q: float = 1.0

    @property
    def differs(self) -> bool:
        """Whether it is shown in its own comparison."""
        return self.p < SIGNIFICANT

    @property
    def stands_out(self) -> bool:
        """Whether it is shown even though many comparisons were made."""
        return self.differs and self.q < SIGNIFICANT

    @property
    def worse(self) -> bool:
        """Whether it is the worse side: of two groups the other one says the same again."""
        return abs(self.value) > abs(self.others)


@dataclass(frozen=True, slots=True)
class Part:
    """One group: counts, its mean cumulative function in few steps, and the life of its repairs.

    Half of the repairs last longer than ``half_life_mgt``; it is missing with too few failures.
    """

    name: str
    components: int
    defects: int
    mgt: float
    steps: tuple[Step, ...]
    repairs: int
    failed: int
    half_life_mgt: tuple[float, float, float] | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """The whole comparison. ``without`` is how many do not tell the fact."""

    by: By
    parts: tuple[Part, ...]
    looks: tuple[Look, ...]
    too_few: tuple[str, ...]
    without: int


def compare_family(members: Sequence[Member], by: By) -> Comparison | NotEnough:
    """The family split by a fact, each group against all others.

    What is expected of a component is the rate of those it is like, so that groups that hold more
    of a poor design are not blamed for it.
    """
    parts = _parts(members, by)
    if len(parts) < 2:
        return NotEnough.of(f"groups by {by.label.lower()}", len(parts), 2)
    looks, too_few = list[Look](), list[str]()
    measured = (
        (_repair_looks,) if by in OF_A_REPAIR else (_defect_looks, _repair_looks, _wear_looks)
    )
    for find in measured:
        more, short = find(members, by)
        looks += more
        too_few += short
    adjusted = holm([look.p_alone for look in looks])
    return Comparison(
        by=by,
        parts=parts,
        looks=tuple(replace(look, p=p) for look, p in zip(looks, adjusted, strict=True)),
        too_few=tuple(too_few),
        without=_without(members, by),
    )


def over_all(comparisons: Sequence[Comparison]) -> tuple[Comparison, ...]:
    """The comparisons of one night with ``q`` of each look, after Benjamini and Hochberg."""
    adjusted = iter(benjamini_hochberg([x.p_alone for one in comparisons for x in one.looks]))
    return tuple(
        replace(one, looks=tuple(replace(look, q=next(adjusted)) for look in one.looks))
        for one in comparisons
    )


def _groups(members: Sequence[Member], by: By) -> dict[str, list[Member]]:
    groups: dict[str, list[Member]] = defaultdict(list)
    for member in members:
        if by in member.facts:
            groups[member.facts[by]].append(member)
    return dict(sorted(groups.items()))


def _repairs(members: Sequence[Member], by: By) -> list[tuple[str, str, Life]]:
    """Group, component and life of each repair whose fact is known."""
    return [
        (repair.facts[by], member.key, repair.life)
        for member in members
        for repair in member.repairs
        if by in repair.facts
    ]


def _without(members: Sequence[Member], by: By) -> int:
    if by in OF_A_REPAIR:
        return sum(by not in repair.facts for member in members for repair in member.repairs)
    return sum(by not in member.facts for member in members)


def _parts(members: Sequence[Member], by: By) -> tuple[Part, ...]:
    lives: dict[str, list[Life]] = defaultdict(list)
    on: dict[str, set[str]] = defaultdict(set)
    for name, component, life in _repairs(members, by):
        lives[name].append(life)
        on[name].add(component)
    groups = {} if by in OF_A_REPAIR else _groups(members, by)
    return tuple(
        _part(name, groups.get(name, []), len(on[name]), lives[name])
        for name in sorted(set(groups) | set(lives))
    )


def _part(name: str, members: Sequence[Member], repaired: int, lives: Sequence[Life]) -> Part:
    histories = [member.history for member in members if member.history is not None]
    defects, mgt = counted(histories)
    return Part(
        name=name,
        components=len(members) or repaired,
        defects=defects,
        mgt=mgt,
        steps=_few(mean_cumulative(_lot(histories))) if histories else (),
        repairs=len(lives),
        failed=failures_of(lives),
        half_life_mgt=_half_life(lives),
    )


def _lot(histories: Sequence[History]) -> list[History]:
    """Some of them, the same every day."""
    return sorted(histories, key=lambda one: sha256(one.key.encode()).digest())[:LOT]


def _few(function: MeanCumulative) -> tuple[Step, ...]:
    """Enough steps to draw it by, the last always among them."""
    steps = function.steps
    if len(steps) <= STEPS_KEPT:
        return steps
    places = {round(n * (len(steps) - 1) / (STEPS_KEPT - 1)) for n in range(STEPS_KEPT)}
    return tuple(steps[place] for place in sorted(places))


def _half_life(lives: Sequence[Life]) -> tuple[float, float, float] | None:
    try:
        fit = likelier(lives)
    except ValueError:  # all failed at about one tonnage: there is no spread to estimate
        return None
    return (fit.quantile(0.5), *fit.quantile_limits(0.5)) if isinstance(fit, LifeFit) else None


Looks = tuple[list[Look], list[str]]


def _defect_looks(members: Sequence[Member], by: By) -> Looks:
    rates = _usual_rates(members, by)
    observed: dict[str, list[Observed]] = defaultdict(list)
    for name, group in _groups(members, by).items():
        for member in group:
            history, rate = member.history, rates.get(_like(member, by), 0.0)
            if history is not None and rate > 0:
                expected = rate * (history.ends_mgt - history.begins_mgt)
                observed[name].append(Observed(member.key, len(history.events_mgt), expected))
    found = compare_groups(observed)
    if not isinstance(found, Groups):
        return [], [f"Defects: {found.sentence}"]
    looks = [
        Look(Measure.DEFECTS, "", g.name, g.events, g.components, g.times_others, g.low, g.high,
             1.0, g.p_alone, g.p_alone)
        for g in found.groups
    ]  # fmt: skip
    return looks, [f"Defects, {name}: not enough data." for name in found.left_out]


def _like(member: Member, by: By) -> str:
    """Whom a component is held against: all, where the split is what makes them like."""
    return "" if by in (By.STEEL, By.DESIGN) else member.like


def _usual_rates(members: Sequence[Member], by: By) -> dict[str, float]:
    """Defects a MGT of those that are alike."""
    histories: dict[str, list[History]] = defaultdict(list)
    for member in members:
        if member.history is not None:
            histories[_like(member, by)].append(member.history)
    sums = {like: counted(rows) for like, rows in histories.items()}
    return {like: events / mgt for like, (events, mgt) in sums.items()}


def _repair_looks(members: Sequence[Member], by: By) -> Looks:
    looks, too_few = list[Look](), list[str]()
    repairs = _repairs(members, by)
    for name in sorted({group for group, _, _ in repairs}):
        found = failing_against_others(
            [Repaired(component, life, group == name) for group, component, life in repairs]
        )
        if isinstance(found, Failing):
            looks.append(
                Look(Measure.REPAIRS, "", name, found.failures, found.repairs, found.times,
                     found.low, found.high, 1.0, found.p_value, found.p_value)
            )  # fmt: skip
        else:
            too_few.append(f"Life of repairs, {name}: {_lowered(found.sentence)}")
    return looks, too_few


def _wear_looks(members: Sequence[Member], by: By) -> Looks:
    looks, too_few = list[Look](), list[str]()
    groups = _groups(members, by)
    for quantity in sorted({quantity for member in members for quantity in member.wear}):
        for name in groups:
            own = rate_of([m.wear[quantity] for m in groups[name] if quantity in m.wear])
            rest = [m for other, rows in groups.items() if other != name for m in rows]
            others = rate_of([m.wear[quantity] for m in rest if quantity in m.wear])
            if isinstance(own, Rate) and isinstance(others, Rate):
                p = differ(own, others)
                looks.append(
                    Look(Measure.WEAR, quantity.value, name, own.readings, own.components,
                         own.rate, own.low, own.high, others.rate, p, p)
                )  # fmt: skip
            elif not isinstance(own, Rate) and own.have:
                too_few.append(f"{quantity.label}, {name}: {_lowered(own.sentence)}")
    return looks, too_few


def _lowered(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]
