"""How values and outcomes are said, so that a sentence can be read over the radio."""

from decimal import Decimal
from functools import lru_cache

from repairs.triage.decision import Outcome
from repairs.triage.rows import Compare, LimitRow
from turnouts.analysis.showing import format_length

CLASS_NAMES = {0: "excepted track", **{c: f"class {c}" for c in range(1, 6)}}


_BEHIND = {
    "from memory": "a text quoted from memory",
    "from-memory": "a figure quoted from memory",
    "common-practice": "common practice of the trade, no published rule",
    "assumed": "an assumption, in place of which the railway should set its own",
}


def behind(checked: str) -> str:
    """What stands behind a row whose text nobody could read, in plain words."""
    return _BEHIND[checked]


@lru_cache(maxsize=8192)
def said_length(mm: Decimal) -> str:
    """A length in inches with the exact mm behind it: ``5/8 in (15.875 mm)``."""
    return f"{format_length(mm, 'in')} ({format_length(mm, 'mm')})"


def said_speed(freight_mph: Decimal, passenger_mph: Decimal | None) -> str:
    """``40 mph, passenger trains 60 mph``; one number when both are the same."""
    if passenger_mph == freight_mph:
        return f"{freight_mph} mph"
    if passenger_mph is None:
        return f"{freight_mph} mph, no passenger trains"
    return f"{freight_mph} mph, passenger trains {passenger_mph} mph"


def limit_sentence(
    row: LimitRow, clause: str, measured: Decimal, limit: Decimal, outcome: Outcome, u: Decimal
) -> str:
    """A measured value beside its limit, in one sentence."""
    side = {
        Compare.NOT_MORE_THAN: "at most",
        Compare.NOT_LESS_THAN: "at least",
        Compare.LESS_THAN: "less than",
    }[row.compare]
    what = row.title.removesuffix(", least").removesuffix(", most")
    start = f"{what} {said_length(measured)}, limit {side} {said_length(limit)} ({clause})"
    if outcome is Outcome.NEAR:
        return (
            f"{start}: inside by less than the measurement's uncertainty of {said_length(u)}, "
            "so treated as past the limit."
        )
    if outcome is Outcome.BEYOND:
        doubt = " by less than the uncertainty" if abs(measured - limit) < u else ""
        return f"{start}: past the limit{doubt}."
    return f"{start}: within."


def joined(parts: list[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
