"""A place on the earth: what can be one, how people read it, and the link that opens a map.

Coordinates are WGS 84 in decimal degrees, south and west below zero. The link is a ``geo`` URI as
RFC 5870 (June 2010) has it: no service is named in it, so it opens whatever map the phone has, and
needs no signal. No uncertainty (``u``) is given, because none is on record; RFC 5870 section 3.4.3
takes that as not known.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Axis = Literal["latitude", "longitude"]

FURTHEST_DEG: dict[Axis, int] = {"latitude": 90, "longitude": 180}
"""RFC 5870 section 3.4.2: latitudes range from -90 to 90, longitudes from -180 to 180."""


def refused_coordinate(axis: Axis, degrees: Decimal | None, other: Decimal | None) -> str | None:
    """Why ``degrees`` cannot be the ``axis`` of a place, as a sentence; None where it can.

    ``other`` is the second coordinate: a place has both or neither.
    """
    furthest = FURTHEST_DEG[axis]
    second = "longitude" if axis == "latitude" else "latitude"
    if degrees is None:
        lone = f"A {second} alone is no place: give the {axis} as well, or leave both empty."
        return lone if other is not None else None
    if abs(degrees) > furthest:
        return (
            f"A {axis} lies between -{furthest} and {furthest} degrees; {degrees.normalize():f} "
            "does not. See whether latitude and longitude were exchanged."
        )
    return None


def refused_place(latitude: Decimal | None, longitude: Decimal | None) -> str | None:
    """Why the two together are no place, as a sentence; None where they are, or both are empty."""
    return refused_coordinate("latitude", latitude, longitude) or refused_coordinate(
        "longitude", longitude, latitude
    )


@dataclass(frozen=True, slots=True)
class Place:
    """A place on the earth in degrees. ValueError with a sentence where there is none such."""

    latitude: Decimal
    longitude: Decimal

    def __post_init__(self) -> None:
        fault = refused_place(self.latitude, self.longitude)
        if fault:
            raise ValueError(fault)

    @property
    def words(self) -> str:
        """As people say it: 48.8767° S, 123.3933° W."""
        north, east = self.latitude >= 0, self.longitude >= 0
        return (
            f"{_digits(abs(self.latitude))}° {'N' if north else 'S'}, "
            f"{_digits(abs(self.longitude))}° {'E' if east else 'W'}"
        )

    @property
    def signed(self) -> str:
        """As map programs take it when it is pasted: -48.8767, -123.3933."""
        return f"{_digits(self.latitude)}, {_digits(self.longitude)}"

    @property
    def uri(self) -> str:
        """The ``geo`` URI. At a pole the longitude says nothing and is 0 (section 3.4.2)."""
        longitude = self.longitude if abs(self.latitude) < FURTHEST_DEG["latitude"] else Decimal(0)
        return f"geo:{_digits(self.latitude)},{_digits(longitude)}"


def place_of(latitude: Decimal | None, longitude: Decimal | None) -> Place | None:
    """The place two coordinates mean; None where they are not on record."""
    if latitude is None or longitude is None:
        return None
    return Place(latitude, longitude)


def _digits(degrees: Decimal) -> str:
    """Plain digits: no exponent, no trailing zeros, no minus before a zero (the grammar's num)."""
    text = f"{degrees + 0:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
