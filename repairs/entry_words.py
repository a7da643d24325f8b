"""What an entry of the trackside says, in words and in the reader's units."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from repairs.field.events import (
    AtStage,
    AtZone,
    Briefing,
    BrokenOff,
    Correction,
    Data,
    HandedBack,
    Indication,
    Material,
    Measured,
    Note,
    PassTemperature,
    Penetrant,
    Photo,
)
from turnouts.analysis.showing import UnitPreference, show
from turnouts.analysis.units import QUANTITY_DIMENSION, Dimension


@dataclass(frozen=True)
class Names:
    """What the stages of a sheet are called, and its materials with their units, by key."""

    stages: dict[str, str]
    materials: dict[str, tuple[str, str]]

    @classmethod
    def of(cls, content: dict[str, list[dict[str, str]]]) -> "Names":
        """The names on a sheet, from its content."""
        return cls(
            {one["key"]: one["name"] for one in content["stages"]},
            {one["key"]: (one["name"], one["unit"]) for one in content["materials"]},
        )


def entry_words(data: Data, names: Names, units: UnitPreference) -> str:
    """What an entry says beside its kind; empty where the kind says all."""
    return ", ".join(_parts(data, names, units))


def _parts(data: Data, names: Names, units: UnitPreference) -> Iterator[str]:
    """An entry's words where it says more than a place or a text, which come without a name."""
    match data:
        case AtStage() | Material():
            yield from _named(data, names)
        case PassTemperature() | Penetrant() | Indication() | Measured():
            yield from _with_figures(data, units)
        case HandedBack():
            yield from _handed_back(data, units)
        case BrokenOff():
            yield from (data.reason, f"the track {data.state.label.lower()}")
        case _:
            yield from filter(None, [_plainly(data)])


def _plainly(data: Data) -> str:
    match data:
        case Briefing():
            return "points " + ", ".join(map(str, data.points))
        case AtZone():
            return data.zone
        case Photo():
            return data.caption
        case Note():
            return data.text
        case Correction():
            return data.reason
    return ""


def _named(data: AtStage | Material, names: Names) -> Iterator[str]:
    if isinstance(data, Material):
        name, unit = names.materials.get(data.key, (data.key, ""))
        yield f"{data.quantity:f} {unit} of {name}".replace("  ", " ")
        return
    yield names.stages.get(data.stage, data.stage)
    if data.interrupted:
        yield "held up"


def _with_figures(
    data: PassTemperature | Penetrant | Indication | Measured, units: UnitPreference
) -> Iterator[str]:
    match data:
        case PassTemperature():
            yield from (data.zone, show(data.degc, Dimension.TEMPERATURE, units))
            yield f"{_length(data.place_mm, units)} from the weld"
            yield from filter(None, [data.note])
        case Penetrant():
            yield data.step.label.lower()
            if data.surface_degc is not None:
                yield f"steel at {show(data.surface_degc, Dimension.TEMPERATURE, units)}"
        case Indication():
            yield from (data.zone, data.shape.label.lower())
            yield f"{_length(data.length_mm, units)} long"
            yield from _more_of(data, units)
        case Measured():
            yield data.quantity.label + (f", {data.route.label.lower()}" if data.route else "")
            yield show(data.value_mm, QUANTITY_DIMENSION[data.quantity], units)


def _more_of(data: Indication, units: UnitPreference) -> Iterator[str]:
    if data.width_mm is not None:
        yield f"{_length(data.width_mm, units)} wide"
    for name, mm in (("along", data.x_mm), ("across", data.y_mm)):
        if mm is not None:
            yield f"{_length(mm, units)} {name}"


def _handed_back(data: HandedBack, units: UnitPreference) -> Iterator[str]:
    yield data.state.label.lower()
    none = "no new restriction" if data.unrestricted else "no speed given"
    at = data.speed_kmh
    yield none if at is None else f"at {show(at, Dimension.SPEED, units)}"
    yield f"by the word of {data.qualified_person}"
    yield from filter(None, [data.note])


def _length(mm: Decimal, units: UnitPreference) -> str:
    return show(mm, Dimension.LENGTH, units)
