"""Weld a component again or replace it: what each way costs per MGT, from its own record."""

from dataclasses import dataclass
from datetime import date
from math import log, log1p
from zlib import crc32

from repairs.services.costs import Assumed, assumed_rows, line_at
from repairs.triage.decision import Traffic, TrafficKind
from repairs.triage.life_cost import GRINDING_YEARS, Line, group_of, way_for
from repairs.triage.priority import price
from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.lives import LifeFit, Shape
from turnouts.analysis.renewal.posterior import weld_life
from turnouts.analysis.renewal.ways import Advice, Prices, Renewal
from turnouts.analysis.renewal.weld_family import USUAL_SPREAD, WeldFamily
from turnouts.analysis.renewal.weld_or_replace import weld_or_replace
from turnouts.analysis.terms import ComponentKind, Disposition
from turnouts.analysis.tonnage import DAYS_IN_YEAR
from turnouts.models import Component, Turnout
from turnouts.services.component_file import standing_at
from turnouts.services.component_rows import Life, lives_of
from turnouts.services.errors import Refused
from turnouts.services.family_figures import Figures, figures_of
from turnouts.services.repair_lives import repair_lives

USUAL_SHAPE = 1.5
"""Weibull shape of weld lives where none are on record (assumed: they wear, and some fail soon)."""

PRICED_SD = 0.5
"""Standard deviation of the log of a life that is taken from a price row (assumed: half to double
of it, two times in three)."""


@dataclass(frozen=True)
class Costs:
    """The ways compared for one component as of a day, with all that went into it.

    ``grounds`` say in sentences what the lives rest on; ``family_on`` is the night that worked out
    those of its like.
    """

    advice: Advice
    turnout: Turnout
    on: date
    window_on: date | None
    mgt_a_year: float
    prices: Prices
    renewal: Renewal
    family_on: date | None
    grounds: tuple[str, ...]
    assumed: tuple[Assumed, ...]


def weld_or_replace_costs(component: Component, on: date, window_on: date | None = None) -> Costs:
    """What each way costs per MGT; the component comes ``with_history``.

    ``window_on`` is the day of the next renewal window there, if one is planned. Refused, with the
    reason, for parts that nobody welds, out of track, without tonnage, or a window not ahead.
    """
    turnout = _stands_at(component)
    life, line = _life_and_line(component, turnout, on)
    if window_on is not None and window_on <= on:
        raise Refused(f"The renewal window of {window_on} is not ahead; give a later day.")
    mgt_a_year = _passing(life)
    group = _group(component)
    figures = figures_of(component)
    own = repair_lives(life, on)
    family, welds_said = _weld_family(group, figures, on)
    first, shape, first_said = _first_life(group, figures, on)
    years = None if window_on is None else (window_on - on).days / float(DAYS_IN_YEAR)
    renewal = Renewal(
        new_life_mgt=first[0],
        new_life_sd_mgt=first[1],
        interest_per_mgt=log1p(price("interest", on)) / mgt_a_year,
        window_mgt=None if years is None else years * mgt_a_year,
        new_shape=shape,
    )
    prices = _prices(group, line, on)
    advice = weld_or_replace(
        weld_life(family.fit, family.between_sd, own),
        weld_life(family.fit, family.between_sd, ()),
        prices,
        renewal,
        seed=crc32(component.serial.encode()),
    )
    return Costs(
        advice=advice,
        turnout=turnout,
        on=on,
        window_on=window_on,
        mgt_a_year=mgt_a_year,
        prices=prices,
        renewal=renewal,
        family_on=figures.on if figures else None,
        grounds=(welds_said, first_said, _spread_said(family), _uncounted()),
        assumed=assumed_rows(_price_names(group), on),
    )


def _stands_at(component: Component) -> Turnout:
    turnout = standing_at(component)
    if turnout is None:
        raise Refused(
            f"{component.serial} is not in track; what welding or replacing costs there is asked "
            "for a place. Ask again when it stands in one."
        )
    return turnout


def _life_and_line(component: Component, turnout: Turnout, on: date) -> tuple[Life, Line]:
    lives, unknown = lives_of([component], on)
    if component.pk in unknown:
        raise Refused(unknown[component.pk])
    try:
        return lives[component.pk], line_at(turnout, on)
    except ValueError as refusal:
        raise Refused(str(refusal)) from refusal


def _passing(life: Life) -> float:
    if life.clock.mgt_a_year <= 0:
        raise Refused(
            f"{life.component.serial}: no tonnage passes over it by the newest count, so a cost "
            "per MGT says nothing. Correct the traffic of the turnout if that is wrong."
        )
    return life.clock.mgt_a_year


def _group(component: Component) -> str:
    try:
        return group_of(ComponentKind(component.kind))[0]
    except ValueError as refusal:
        raise Refused(str(refusal)) from refusal


def _weld_family(group: str, figures: Figures | None, on: date) -> tuple[WeldFamily, str]:
    """The welds of its like, or those of the price row where too few are on record."""
    if figures is not None and isinstance(figures.welds, WeldFamily):
        found = figures.welds
        return found, (
            f"Welds of its like: {found.fit.failures} that failed and {found.fit.running} in "
            f"service, on {found.components} components, last {found.fit.mean:.0f} MGT on average."
        )
    mgt = price(f"{group}_weld_in_track_life", on)
    fit = LifeFit(
        shape=Shape.WEIBULL,
        location=log(mgt),
        scale=1 / USUAL_SHAPE,
        covariance=((PRICED_SD**2, 0.0), (0.0, 0.2**2)),
        log_likelihood=0.0,
        failures=0,
        running=0,
    )
    lacking = figures.welds.sentence if figures and isinstance(figures.welds, NotEnough) else (
        "What its like have in common has not been worked out yet."
    )  # fmt: skip
    said = f"{lacking} So {mgt:g} MGT of the price row is taken, half to double of it."
    return WeldFamily(fit, USUAL_SPREAD, spread_known=False, components=0), said


def _first_life(
    group: str, figures: Figures | None, on: date
) -> tuple[tuple[float, float], float, str]:
    """Mean life of a new component to its first weld with its error, the shape, and the ground."""
    if figures is not None and isinstance(figures.first, LifeFit):
        fit = figures.first
        error = fit.mean * fit.covariance[0][0] ** 0.5
        said = (
            f"New ones of its like went {fit.mean:.0f} MGT on average to their first weld: "
            f"{fit.failures} that came to it and {fit.running} that have not yet."
        )
        return (fit.mean, error), 1 / fit.scale, said
    mgt = price(f"{group}_first_life", on)
    said = (
        "Too few of its like were put in new since the records began; to the first weld "
        f"{mgt:g} MGT of the price row are taken, half to double of it."
    )
    return (mgt, mgt * PRICED_SD), USUAL_SHAPE, said


def _spread_said(family: WeldFamily) -> str:
    if family.spread_known:
        return "How much components differ was estimated from those welded twice or more."
    return "How much components differ cannot be estimated yet; a usual spread is taken (assumed)."


def _uncounted() -> str:
    return (
        "Not counted: the wait before the work, which both ways have; a change of traffic or "
        "prices; and a place that would wear out a new part as fast, so put its cause right first."
    )


def _prices(group: str, line: Line, on: date) -> Prices:
    """A failure costs the days of restricted speed until the next weld."""
    clear = Traffic(TrafficKind.CLASS_SPEED, None, None, None)
    weld = way_for(group, Disposition.WELD_IN_TRACK, clear, line, on)
    new = way_for(group, Disposition.REPLACE, clear, line, on)
    grinding = len(GRINDING_YEARS) * new.grinding
    return Prices(
        weld=weld.price + grinding,
        replace_now=new.price + grinding,
        replace_in_window=new.price * price("renewal_window_share", on) + grinding,
        failure=weld.wait_days * weld.failing,
        currency=line.currency,
    )


def _price_names(group: str) -> list[str]:
    return [
        f"{group}_weld_in_track_price",
        f"{group}_replace_price",
        "renewal_window_share",
        "follow_up_grinding",
        "weld_in_track_wait",
        "interest",
        f"{group}_weld_in_track_life",
        f"{group}_first_life",
        "train_hour",
    ]
