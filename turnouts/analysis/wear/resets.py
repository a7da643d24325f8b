"""What a repair brings back to new, and which measured lengths are wear at all.

Common practice of the trade, in no publication: building up a place brings back what is measured at
it; grinding flow, tightening fastenings and arresting a crack bring no metal back.
"""

from turnouts.analysis.terms import DefectKind, Quantity, Zone

Q = Quantity

METAL_LOST = frozenset(
    {
        DefectKind.SPALL,
        DefectKind.SHELL,
        DefectKind.CHIP,
        DefectKind.BATTER,
        DefectKind.WEAR,
        DefectKind.BROKEN,
    }
)
"""Kinds of defect whose repair builds metal up."""

AT_THE_SEAT = frozenset(
    {
        Q.FLANGEWAY_WIDTH,
        Q.GUARD_CHECK_GAGE,
        Q.GUARD_FACE_GAGE,
        Q.TRACK_GAGE,
        Q.HORN_CLEARANCE,
        Q.POINT_FIT_GAP,
    }
)
"""Lengths that depend on how the part was put in: a new place starts them again."""

_POINT = frozenset({Q.POINT_WEAR_DEPTH, Q.POINT_WEAR_LENGTH, Q.SWITCH_POINT_WEAR})
_TREAD = frozenset({Q.TREAD_WEAR, Q.FLANGEWAY_DEPTH})

BUILT_UP: dict[Zone, frozenset[Quantity]] = {
    Zone.POINT: _POINT,
    Zone.TREAD: _TREAD,
    Zone.GUARD_FACE: frozenset({Q.RAISED_GUARD_WEAR}),
}
"""What is back at new after a weld repair in a zone. Wings, toe, heel and throat are not where
these lengths are measured."""

WEARS = frozenset(quantity for group in BUILT_UP.values() for quantity in group) | AT_THE_SEAT
"""Lengths that follow tonnage."""


def brought_back(kind: DefectKind, zone: Zone) -> frozenset[Quantity]:
    """The quantities that a repair of such a defect starts again; empty for most."""
    return BUILT_UP.get(zone, frozenset()) if kind in METAL_LOST else frozenset()
