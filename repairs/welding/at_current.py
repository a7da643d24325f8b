"""A procedure at another current within its range: more metal a minute, more heat, wider beads."""

from dataclasses import replace

from repairs.welding.procedures import Procedure
from repairs.welding.refusals import OutsideValidity
from repairs.welding.rows_toml import table_of


def current_range_a(procedure: Procedure) -> tuple[float, float]:
    """Least and most current a forecast is made for, around the procedure's own."""
    rows = table_of("conditions", "current")
    own_a = procedure.settings.current_a
    return own_a * rows.number("least_share"), own_a * rows.number("most_share")


def at_current(procedure: Procedure, current_a: float) -> Procedure:
    """The procedure with its deposit rate and wire feed in proportion to the current.

    Voltage and travel stay; so a bead grows with the current, and heat input too. Raises
    OutsideValidity outside ``current_range_a``, where proportion is no forecast any more.
    """
    low_a, high_a = current_range_a(procedure)
    if not low_a <= current_a <= high_a:
        raise OutsideValidity(
            f"{current_a:g} A is outside {low_a:.0f} to {high_a:.0f} A, the range this forecast "
            f"holds for around the {procedure.settings.current_a:g} A of the procedure."
        )
    settings = procedure.settings
    share = current_a / settings.current_a
    feed = settings.wire_feed_m_per_min
    changed = replace(
        settings,
        current_a=current_a,
        deposit_rate_kg_per_h=settings.deposit_rate_kg_per_h * share,
        wire_feed_m_per_min=None if feed is None else feed * share,
    )
    return replace(procedure, settings=changed)
