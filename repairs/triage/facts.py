"""What is known of a defect when it is decided on: the component, the defect, readings, the track.

Lengths are exact ``Decimal`` millimetres, never floats: 5/8 in is 15.875 mm. ``None`` means that
nobody recorded the fact; it is never read as "no".
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    FrogDesign,
    HeadReach,
    Orientation,
    Quantity,
    RailFlaw,
    Steel,
    Zone,
)

EXCEPTED = 0
HIGHEST_CLASS = 5


@dataclass(frozen=True, slots=True)
class Reading:
    """One measured value in mm, with the uncertainty of its instrument.

    ``at_mm`` is the distance behind the point where it was taken; ``None`` is the worst place.
    """

    quantity: Quantity
    value: Decimal
    taken_on: date
    reference: str
    uncertainty: Decimal = Decimal(0)
    at_mm: Decimal | None = None

    def __post_init__(self) -> None:
        if self.value < 0 or self.uncertainty < 0:
            raise ValueError(
                f"Reading {self.reference} of {self.quantity} is {self.value} mm "
                f"± {self.uncertainty} mm; neither may be below zero. Correct the reading."
            )


@dataclass(frozen=True, slots=True)
class DefectFacts:
    """The defect as reported. The uncertainty is that of its sizes, in mm.

    ``flaw`` and ``head_share_percent`` come from a rail test of a crack in a rail or switch point.
    ``access`` tells whether a welder can get at the place with the part in track, with gouge,
    grinder and preheat; ``metal_left_mm`` is the sound metal left under the defect, and
    ``hardened_mm`` how deep the work-hardened skin of a casting goes there. ``damaged`` is true of
    a rail hurt by a derailment, a broken or flat wheel or wheels slipping.
    """

    kind: DefectKind
    zone: Zone
    length_mm: Decimal | None = None
    width_mm: Decimal | None = None
    depth_mm: Decimal | None = None
    uncertainty_mm: Decimal = Decimal(0)
    orientation: Orientation | None = None
    breaks_surface: bool | None = None
    reaches_edge: bool | None = None
    reaches_base: bool | None = None
    head: HeadReach | None = None
    flaw: RailFlaw | None = None
    head_share_percent: Decimal | None = None
    access: bool | None = None
    metal_left_mm: Decimal | None = None
    hardened_mm: Decimal | None = None
    damaged: bool | None = None

    def __post_init__(self) -> None:
        sizes = (
            self.length_mm,
            self.width_mm,
            self.depth_mm,
            self.uncertainty_mm,
            self.metal_left_mm,
            self.hardened_mm,
        )
        if any(size is not None and size < 0 for size in sizes):
            raise ValueError(
                f"The {self.kind.label.lower()} at the {self.zone.label.lower()} has a size below "
                "zero. Correct length, width, depth, metal left, skin or uncertainty."
            )
        share = self.head_share_percent
        if share is not None and not 0 <= share <= 100:
            raise ValueError(f"A flaw takes 0 to 100 % of the head, not {share} %. Correct it.")


@dataclass(frozen=True, slots=True)
class HeavyPoint:
    """The facts that 49 CFR 213.143(b) asks of a heavy-point frog and the guard rails beside it."""

    marked: bool | None = None
    through_gage_plates: int | None = None
    elastic_fasteners: bool | None = None
    adjustable_braces_both_rails: bool | None = None


@dataclass(frozen=True, slots=True)
class ComponentFacts:
    """The component that carries the defect. ``heavy_point`` is ``None`` for an ordinary frog.

    ``crossing_angle_deg`` belongs to a frog in a crossing diamond only. ``earlier_welds_here`` is
    the number of welds on record at the place of the defect.
    """

    kind: ComponentKind
    design: FrogDesign | None = None
    steel: Steel | None = None
    heavy_point: HeavyPoint | None = None
    crossing_angle_deg: Decimal | None = None
    movable_guard_rails: bool | None = None
    earlier_welds_here: int = 0


@dataclass(frozen=True, slots=True)
class TrackFacts:
    """The class of track: 0 is excepted track, 1 to 5 as in 49 CFR 213.9(a), ``None`` unknown."""

    track_class: int | None

    def __post_init__(self) -> None:
        if self.track_class is not None and not EXCEPTED <= self.track_class <= HIGHEST_CLASS:
            raise ValueError(
                f"Track class {self.track_class} is outside these rules, which hold excepted "
                "track (0) and classes 1 to 5. Classes 6 and above have their own part of the law."
            )


@dataclass(frozen=True, slots=True)
class InspectionFacts:
    """When the turnout was last looked at, and the facts that say how often it must be.

    ``walked_on`` is the last inspection on foot, ``thrown_on`` the last in which the switch was
    operated to all its positions, ``passed_on`` the last of the track by vehicle or on foot.
    """

    walked_on: date | None = None
    thrown_on: date | None = None
    passed_on: date | None = None
    held_by_one_rod: bool | None = None
    used_monthly: bool | None = None
    main_or_siding: bool | None = None
    passengers_or_over_10_mgt: bool | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """All that a decision may look at. With no defect: are the limits met?

    ``inspected`` is left out where nobody asks whether an inspection is due.
    """

    component: ComponentFacts
    defect: DefectFacts | None
    readings: tuple[Reading, ...]
    track: TrackFacts
    reported_on: date
    decided_on: date
    inspected: InspectionFacts | None = None

    def __post_init__(self) -> None:
        if self.decided_on < self.reported_on:
            raise ValueError(
                f"Decided on {self.decided_on}, before it was reported on {self.reported_on}. "
                "Correct one of the dates."
            )
        late = [r.reference for r in self.readings if r.taken_on > self.decided_on]
        if late:
            raise ValueError(
                f"Readings {', '.join(late)} were taken after the decision date "
                f"{self.decided_on}. Leave them out, or decide on a later date."
            )
