"""From findings to what trains may do now. Of two rules that disagree the stricter stands."""

from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal

from repairs.triage.decision import Effect, Finding, Missing, Outcome, Traffic, TrafficKind
from repairs.triage.rules import RuleSet

KMH_PER_MPH = Decimal("1.609344")
_STOPS = (Effect.STOP, Effect.BELOW_CLASS_1)
_ANSWERED = (Outcome.WITHIN, Outcome.NEAR, Outcome.BEYOND)


@dataclass(frozen=True, slots=True)
class _Cap:
    freight: Decimal
    passenger: Decimal | None
    finding: Finding


def traffic_now(
    findings: list[Finding], missing: list[Missing], rules: RuleSet, track_class: int | None
) -> tuple[Traffic, list[Finding]]:
    """What traffic may do, and the findings that say so.

    Class speed is said only when every reading that this defect asks for is there and inside its
    limit. A restriction above the lowest running speed is not said while one is missing: it would
    be a permission resting on a guess.
    """
    applying = [f for f in findings if f.applies_to_traffic]
    stopping = [f for f in applying if _stops(f)]
    if stopping:
        return traffic_of(TrafficKind.STOP, Decimal(0), Decimal(0)), stopping
    caps = [cap for f in applying if (cap := _cap(f, rules)) is not None]
    freight, passenger = _own_speed(rules, track_class)
    biting = [cap for cap in caps if _bites(cap, freight, passenger)]
    lowest = min((c.freight for c in biting), default=freight)
    if biting and passenger is not None:
        passenger = min(passenger, *(c.passenger for c in biting if c.passenger is not None))
    elif biting and freight is None:
        passenger = min((c.passenger for c in biting if c.passenger is not None), default=None)
    known = track_class is not None or not rules.has_classes
    open_question = _is_open(findings, missing, known=known)
    governing = [c.finding for c in biting if c.freight == lowest or c.passenger == passenger]
    floor = _lowest_running_speed(rules)
    if biting and lowest is not None and floor is not None and lowest <= floor:
        return traffic_of(TrafficKind.RESTRICTED, lowest, passenger), governing
    if open_question:
        judged = [f for f in applying if f.effect is Effect.JUDGE and f not in governing]
        return traffic_of(TrafficKind.UNKNOWN, lowest, passenger), governing + judged
    kind = TrafficKind.RESTRICTED if biting else TrafficKind.CLASS_SPEED
    return traffic_of(kind, lowest, passenger), governing


def severity(traffic: Traffic) -> tuple[int, Decimal]:
    """An order of traffic answers: class speed, nothing known, a lower speed, stop.

    A speed that is only the most that could be allowed ranks with the same restriction.
    """
    if traffic.kind is TrafficKind.STOP:
        return 3, Decimal(0)
    if traffic.kind is TrafficKind.CLASS_SPEED:
        return 0, Decimal(0)
    return (2, -traffic.speed_mph) if traffic.speed_mph is not None else (1, Decimal(0))


def _stops(finding: Finding) -> bool:
    return finding.effect in _STOPS or finding.class_met == 0


def _own_speed(rules: RuleSet, track_class: int | None) -> tuple[Decimal | None, Decimal | None]:
    for row in rules.speeds:
        if row.any_class or row.track_class == track_class:
            return row.freight_mph, row.passenger_mph
    return None, None


def _lowest_running_speed(rules: RuleSet) -> Decimal | None:
    """The speed below which no class runs; ``None`` for a law without a table of speeds."""
    return min((row.freight_mph for row in rules.speeds), default=None)


def _cap(finding: Finding, rules: RuleSet) -> _Cap | None:
    if finding.effect is Effect.CLASS and finding.class_met is not None:
        freight, passenger = _own_speed(rules, finding.class_met)
        return None if freight is None else _Cap(freight, passenger, finding)
    if finding.cap_mph is None:
        return None
    return _Cap(finding.cap_mph, finding.cap_mph, finding)


def _bites(cap: _Cap, freight: Decimal | None, passenger: Decimal | None) -> bool:
    """A cap at the class's own speed is said as a restriction too: it holds after a reclassing."""
    if freight is None or cap.freight <= freight:
        return True
    return passenger is not None and cap.passenger is not None and cap.passenger < passenger


def _is_open(findings: list[Finding], missing: list[Missing], *, known: bool) -> bool:
    if not known or any(m.blocks for m in missing):
        return True
    if any(f.applies_to_traffic and f.effect is Effect.JUDGE for f in findings):
        return True
    return not any(f.outcome in _ANSWERED and f.effect is not Effect.ADVICE for f in findings)


def traffic_of(kind: TrafficKind, freight: Decimal | None, passenger: Decimal | None) -> Traffic:
    """A traffic answer from speeds in mph; km/h are rounded down."""
    kmh = None if freight is None else (freight * KMH_PER_MPH).to_integral_value(ROUND_FLOOR)
    return Traffic(kind, freight, passenger, kmh)
