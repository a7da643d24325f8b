"""What the penetrant showed, judged against the level the sheet accepts.

ISO 23277 gives for each level the longest line and the largest rounded indication; its figures
stand in ``rows/field.toml`` and are from memory. The sheet's own level comes first.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from repairs.field.events import Indication, Shape
from repairs.welding.rows_toml import table_of

NONE_ALLOWED = "none"
LEVELS = ("1", "2X", "3X")


@dataclass(frozen=True, slots=True)
class Judged:
    """Whether an indication is accepted, as what shape it was judged, and why, in a sentence."""

    accepted: bool
    shape: Shape
    sentence: str


@cache
def longest_mm() -> Mapping[tuple[str, Shape], Decimal]:
    """Largest accepted size in mm by level and shape."""
    return {
        (level, shape): Decimal(str(table_of("field", f"level_{level}").number(f"{shape}_mm")))
        for level in LEVELS
        for shape in Shape
    }


def judged_shape(shown: Indication) -> Shape:
    """Linear where it is longer than three times its width, whatever it was called.

    A line without a width stays a line; so does one that was called a line and is short: the worse
    name stands.
    """
    ratio = Decimal(str(table_of("field", "indications").number("linear_ratio")))
    if shown.width_mm is not None and shown.length_mm > ratio * shown.width_mm:
        return Shape.LINEAR
    return shown.shape


def judge(shown: Indication, level: str) -> Judged:
    """Hold one indication against a level: ``none``, ``1``, ``2X`` or ``3X``."""
    shape = judged_shape(shown)
    said = f"{shape.label} indication of {shown.length_mm.normalize():f} mm"
    if level == NONE_ALLOWED:
        return Judged(False, shape, f"{said}: the sheet accepts none, so it is not accepted.")
    most = longest_mm()[(level, shape)]
    accepted = shown.length_mm <= most
    verdict = "accepted" if accepted else "not accepted"
    return Judged(
        accepted,
        shape,
        f"{said}: level {level} of ISO 23277 (from memory) allows {most:f} mm, so it is {verdict}.",
    )
