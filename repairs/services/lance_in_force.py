"""What estimates reckon with under the air lance: taken over from records, or the row."""

from repairs.models import LanceCooling
from repairs.welding.rows_toml import table_of


def lance_in_force() -> LanceCooling | None:
    """What engineers approved last; None where the row stands."""
    return LanceCooling.objects.filter(state="approved").order_by("-answered_at", "-pk").first()


def row_w_per_m2_k() -> float:
    """What the shipped row says."""
    return table_of("heating", "cooling").number("air_quench")
