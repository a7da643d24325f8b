"""A comparison of groups in plain sentences: what it shows, and how sure that is."""

from collections.abc import Sequence
from dataclasses import dataclass

from turnouts.analysis.ranking.comparison import Look, Measure
from turnouts.analysis.recurrence.log_rank import OF_A_REPAIR, By
from turnouts.analysis.terms import Quantity


@dataclass(frozen=True, slots=True)
class LengthUnit:
    """The unit of length the reader uses: its size in mm, and its symbol."""

    mm: float
    symbol: str


MOST_SAID = 3
"""Differences that are said in words, the worse ones first; the others stand in the tables."""

MM = LengthUnit(1.0, "mm")


def summed_up(looks: Sequence[Look], unit: LengthUnit = MM) -> str:
    """The sentence over the whole comparison."""
    if not looks:
        return "Not enough data: no group has enough records to be compared."
    found = [look for look in looks if look.differs]
    corrected = f"corrected for all {len(looks)} looks of this comparison"
    if not found:
        return (
            f"No difference is shown, {corrected}. That does not prove that the groups are alike."
        )
    worse_first = sorted(found, key=lambda look: (not look.worse, look.p))
    said = [look_sentence(look, unit) for look in worse_first[:MOST_SAID]]
    if more := len(found) - len(said):
        said.append(f"{more} more difference{' is' if more == 1 else 's are'} in the tables.")
    return f"{' '.join(said)} All of it is {corrected}."


def look_sentence(look: Look, unit: LengthUnit = MM) -> str:
    """One look in words, with its limits and counts."""
    if look.measure is Measure.WEAR:
        value, low, high, others = (
            x / unit.mm for x in (look.value, look.low, look.high, look.others)
        )
        said = (
            f"{Quantity(look.quantity).label} of {look.group} moves by {value:.2g} {unit.symbol} a "
            f"MGT (95 % confidence {low:.2g} to {high:.2g}), of the others by {others:.2g}"
        )
        return f"{said}; from {look.counted} readings on {look.of} components."
    limits = f"(95 % confidence {look.low:.2g} to {look.high:.2g})"
    if look.measure is Measure.DEFECTS:
        said = f"{look.group}: {look.value:.2g} times the defects of the others {limits}"
        return f"{said}; {look.counted} on {look.of} components."
    said = f"{look.group}: repairs fail {look.value:.2g} times as often as the others {limits}"
    return f"{said}; {look.counted} of {look.of} failed."


def rests_on(by: By) -> tuple[str, ...]:
    """The limits of what a comparison by this fact can show."""
    said = ["A difference is no proof of a cause: what was not recorded may stand behind it."]
    if by in (By.STEEL, By.DESIGN):
        said.append("Steel and design go together, so neither is judged by itself here.")
    elif by not in OF_A_REPAIR:
        said.append("Each component is held against others of the same design and steel.")
    if by in OF_A_REPAIR:
        said.append("It is a fact of each repair, so only the life of repairs is compared.")
    else:
        said.append("Repairs and readings of one component count as one witness, not as many.")
    if by in (By.TERRITORY, By.LINE):
        said.append("A component that has moved counts where it stood last.")
    said.append("A repair of lost metal has failed when such a defect is found in its zone again.")
    return tuple(said)
