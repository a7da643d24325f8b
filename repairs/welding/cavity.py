"""The cavity gouged to sound steel: its shape, volume and surface by closed form.

The floor is flat. Closed sides slope out, both ends ramp up, open sides stand square to the edge
of the casting. Such a body is a prismatoid: its section at any height is a rectangle whose sides
grow linearly, so Simpson's rule over three sections gives its volume exactly.
"""

from dataclasses import dataclass
from math import hypot, isfinite

from repairs.welding.refusals import CavityRefusal
from repairs.welding.settings import Settings
from repairs.welding.work import ZoneWork


@dataclass(frozen=True, slots=True)
class Cavity:
    """A cavity measured in mm; heights run from its floor up to the original contour."""

    floor_length_mm: float
    floor_width_mm: float
    depth_mm: float
    missing_mm: float
    side_slope: float
    run_out: float
    closed_sides: int

    def length_at(self, height_mm: float) -> float:
        """Length in mm at a height over the floor; above the contour the sides stand square."""
        return self.floor_length_mm + 2 * self.run_out * min(height_mm, self.depth_mm)

    def width_at(self, height_mm: float) -> float:
        """Width in mm at a height over the floor; above the contour the sides stand square."""
        return self.floor_width_mm + self.closed_sides * self.side_slope * min(
            height_mm, self.depth_mm
        )

    def area_at(self, height_mm: float) -> float:
        """Plan area in mm2 at a height over the floor."""
        return self.length_at(height_mm) * self.width_at(height_mm)

    def volume_between(self, low_mm: float, high_mm: float) -> float:
        """Volume in mm3 between two heights, exact on either side of the contour."""
        if low_mm < self.depth_mm < high_mm:
            below = self.volume_between(low_mm, self.depth_mm)
            return below + self.volume_between(self.depth_mm, high_mm)
        return prismatoid_volume(
            self.area_at(low_mm),
            self.area_at((low_mm + high_mm) / 2),
            self.area_at(high_mm),
            high_mm - low_mm,
        )

    @property
    def volume_mm3(self) -> float:
        """Volume from the floor up to the original contour."""
        return self.volume_between(0, self.depth_mm)

    @property
    def gouged_mm3(self) -> float:
        """Metal to gouge out: the cavity less what wear or a chip has taken already."""
        return self.volume_between(0, self.depth_mm - self.missing_mm)

    @property
    def surface_mm2(self) -> float:
        """Floor, sloped sides and end ramps: what is ground clean of gouging residue."""
        half = self.depth_mm / 2
        sides = self.closed_sides * self.length_at(half) * self.depth_mm * hypot(1, self.side_slope)
        ends = 2 * self.width_at(half) * self.depth_mm * hypot(1, self.run_out)
        return self.floor_length_mm * self.floor_width_mm + sides + ends


def prismatoid_volume(
    bottom_mm2: float, middle_mm2: float, top_mm2: float, height_mm: float
) -> float:
    """Volume in mm3 of a prismatoid, h/6 (A1 + 4 Am + A2).

    Exact where the section's area is at most a cubic of the height (any solid geometry text).
    """
    return height_mm / 6 * (bottom_mm2 + 4 * middle_mm2 + top_mm2)


def cavity_for(zone: ZoneWork, settings: Settings, closed_sides: int) -> Cavity:
    """The cavity for one zone: past the flaw, through the hardened skin, opened for the arc.

    Raises CavityRefusal for sizes that are not positive numbers, and where the cavity would be
    deeper than the procedure allows to be welded.
    """
    check_extents(zone)
    skin_mm = zone.missing_mm + settings.skin_mm
    depth_mm = max(zone.depth_mm + settings.beyond_mm, skin_mm)
    if depth_mm > settings.depth_max_mm:
        raise CavityRefusal(
            f"{zone.zone.label}: the cavity would be {depth_mm:.1f} mm deep, more than the "
            f"{settings.depth_max_mm:g} mm this procedure may fill; replace the part or ask the "
            "engineer."
        )
    return Cavity(
        floor_length_mm=zone.length_mm + 2 * settings.beyond_mm,
        floor_width_mm=zone.width_mm + closed_sides * settings.beyond_mm,
        depth_mm=depth_mm,
        missing_mm=zone.missing_mm,
        side_slope=settings.side_slope,
        run_out=settings.run_out,
        closed_sides=closed_sides,
    )


def check_extents(zone: ZoneWork) -> None:
    """Refuse sizes that are not finite and positive, and more metal missing than there is depth."""
    for name, size in (
        ("length", zone.length_mm),
        ("width", zone.width_mm),
        ("depth", zone.depth_mm),
    ):
        if not (isfinite(size) and size > 0):
            raise CavityRefusal(
                f"{zone.zone.label}: the {name} is {size:g} mm; measure it and give more than 0."
            )
    if not 0 <= zone.missing_mm <= zone.depth_mm:
        raise CavityRefusal(
            f"{zone.zone.label}: {zone.missing_mm:g} mm of metal missing does not lie between 0 "
            f"and the depth of {zone.depth_mm:g} mm; correct one of the two."
        )
