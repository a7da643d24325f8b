"""The penetrant test as it went: each round with its dwell and developing against the minimum."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from repairs.field.events import Event, Kind, Penetrant, PenetrantStep
from repairs.field.sheet import PenetrantRule

ONLY_OPEN = (
    "Penetrant finds only what is open to the surface. A clean test says nothing about what lies "
    "below it."
)
TWICE = 2
"""Dwell is doubled on cold steel (ASME V Table T-672 note 1)."""


@dataclass(frozen=True, slots=True)
class Round:
    """One application of penetrant and what followed. Minutes, degC; None where not recorded.

    ``dwell_least_min`` is what the steel's temperature asks for, the longer one where nobody
    measured it. ``next_from`` is the moment from which the next step may be taken.
    """

    applied_at: datetime
    surface_degc: Decimal | None
    dwell_least_min: float
    developing_least_min: float
    wiped_at: datetime | None
    developed_at: datetime | None
    read_at: datetime | None
    next_step: PenetrantStep | None
    next_from: datetime | None
    faults: tuple[str, ...]


def rounds(events: Sequence[Event], rule: PenetrantRule) -> tuple[Round, ...]:
    """Each round of the test, from the steps in their order."""
    steps = [event for event in events if event.kind is Kind.PENETRANT]
    starts = [n for n, event in enumerate(steps) if _step(event) is PenetrantStep.APPLIED]
    ends = [*starts[1:], len(steps)]
    return tuple(_round(steps[a:b], rule) for a, b in zip(starts, ends, strict=False))


def dwell_least_min(rule: PenetrantRule, surface_degc: Decimal | None) -> float:
    """The shortest dwell in minutes: doubled below the cold limit and where nobody measured."""
    cold = surface_degc is None or surface_degc < rule.cold_degc
    return rule.dwell_min * (TWICE if cold else 1)


def _step(event: Event) -> PenetrantStep:
    assert isinstance(event.data, Penetrant)  # noqa: S101 - the kind says so
    return event.data.step


def _round(steps: Sequence[Event], rule: PenetrantRule) -> Round:
    first = {_step(event): event.at for event in reversed(steps)}
    surface = next(
        (
            event.data.surface_degc
            for event in steps
            if isinstance(event.data, Penetrant) and event.data.surface_degc is not None
        ),
        None,
    )
    dwell = dwell_least_min(rule, surface)
    applied = first[PenetrantStep.APPLIED]
    wiped, developed = first.get(PenetrantStep.WIPED), first.get(PenetrantStep.DEVELOPED)
    read = first.get(PenetrantStep.READ)
    following = _next(applied, wiped, developed, read, dwell, rule.developing_min)
    return Round(
        applied_at=applied,
        surface_degc=surface,
        dwell_least_min=dwell,
        developing_least_min=rule.developing_min,
        wiped_at=wiped,
        developed_at=developed,
        read_at=read,
        next_step=following[0],
        next_from=following[1],
        faults=(
            *_temperature_faults(surface, rule),
            *_time_faults("dwell", applied, wiped, dwell),
            *_time_faults("developing", developed, read, rule.developing_min),
            *_late(developed, read, rule.read_before_min),
            *_left_out(wiped, developed, read),
        ),
    )


def _next(
    applied: datetime,
    wiped: datetime | None,
    developed: datetime | None,
    read: datetime | None,
    dwell: float,
    developing: float,
) -> tuple[PenetrantStep | None, datetime | None]:
    if read is not None:
        return None, None
    if developed is not None:
        return PenetrantStep.READ, developed + timedelta(minutes=developing)
    if wiped is not None:
        return PenetrantStep.DEVELOPED, wiped
    return PenetrantStep.WIPED, applied + timedelta(minutes=dwell)


def _temperature_faults(surface: Decimal | None, rule: PenetrantRule) -> tuple[str, ...]:
    if surface is None:
        return ("Penetrant: the steel's temperature was not recorded, so the longer dwell counts.",)
    if surface < rule.lowest_degc:
        return (
            f"Penetrant went on steel of {surface:f} degC; below {rule.lowest_degc:f} degC the "
            "test does not count.",
        )
    if surface > rule.hot_degc:
        return (
            f"Penetrant went on steel of {surface:f} degC; above {rule.hot_degc:f} degC the test "
            "does not count.",
        )
    return ()


def _time_faults(
    what: str, begun: datetime | None, ended: datetime | None, least_min: float
) -> tuple[str, ...]:
    if begun is None or ended is None:
        return ()
    took = (ended - begun) / timedelta(minutes=1)
    if took >= least_min:
        return ()
    return (f"Penetrant {what} took {took:.1f} min, less than the {least_min:g} min it needs.",)


def _late(developed: datetime | None, read: datetime | None, most_min: float) -> tuple[str, ...]:
    if developed is None or read is None or read - developed <= timedelta(minutes=most_min):
        return ()
    return (f"Penetrant was read more than {most_min:g} min after the developer; do it again.",)


def _left_out(
    wiped: datetime | None, developed: datetime | None, read: datetime | None
) -> tuple[str, ...]:
    if read is None:
        return ()
    missing = [word for word, at in (("wiping", wiped), ("developing", developed)) if at is None]
    return tuple(f"Penetrant was read, but {word} was not recorded." for word in missing)
