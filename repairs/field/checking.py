"""Whether what an event says fits its sheet: stages, zones and materials that the sheet has."""

from repairs.field.events import (
    AtStage,
    AtZone,
    Briefing,
    Data,
    Indication,
    Material,
    PassTemperature,
)
from repairs.field.reading import BadEvent
from repairs.field.sheet import FieldSheet


def check_fits(sheet: FieldSheet, data: Data) -> None:
    """Raise BadEvent with one sentence where the sheet has no such stage, zone, material, point."""
    match data:
        case AtStage():
            _known("stage", data.stage, [stage.key for stage in sheet.stages])
        case AtZone() | PassTemperature() | Indication():
            _known("zone", data.zone, [zone.key for zone in sheet.zones])
        case Material():
            _known("material", data.key, list(sheet.materials))
        case Briefing() if data.points and max(data.points) > sheet.briefing_points:
            raise BadEvent(f"The briefing of this sheet has {sheet.briefing_points} points.")
        case _:
            pass


def _known(what: str, given: str, known: list[str]) -> None:
    if given not in known:
        raise BadEvent(f"The sheet has no {what} {given}; it has {', '.join(known)}.")
