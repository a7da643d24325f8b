"""What a wire lays by its feed: the check that wire feed and deposit rate tell the same story."""

from math import pi

FEED_TOLERANCE = 0.25
"""How far, as a share of the stated rate, fed and stated deposit may lie apart. Assumed: catches a
feed in the wrong unit or a diameter of the wrong wire, and leaves room for how full a tube is."""


def fed_deposit_kg_per_h(
    diameter_mm: float, feed_m_per_min: float, density_kg_per_m3: float, efficiency: float
) -> float:
    """Weld metal laid while the arc burns: section of the wire, times feed, density, efficiency.

    ``density_kg_per_m3`` is the wire's weight by its outer diameter: 7850 for solid steel wire,
    less for a tube with fill. Source: handbook formula of the deposit rate (``wire-length-table``).
    """
    section_m2 = pi / 4 * (diameter_mm / 1000) ** 2
    return section_m2 * feed_m_per_min * 60 * density_kg_per_m3 * efficiency
