"""A job sheet for the pure tests: a self-guarded frog, guarding face and point, one night."""

from dataclasses import asdict
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid5

from repairs.field.events import Event, Kind, read_data
from repairs.field.sheet import FieldSheet, sheet_facts
from repairs.services.sheet_times import stages_by_the_clock
from repairs.welding.briefing import briefing
from repairs.welding.estimate import estimate
from repairs.welding.procedures import procedure_in_force
from repairs.welding.work import Conditions, RepairWork, ZoneWork
from turnouts.analysis.terms import ComponentKind, FrogDesign, Steel, Zone

START = datetime(2026, 3, 5, 22, 0, tzinfo=UTC)
SPACE = UUID("6a0c1f7e-54cf-4a73-b0f2-7d6f6d1c8a10")

# 49 CFR 213.143 and 213.137(a) for class 3, in mm: 4 ft 6 3/8 in, 1 1/2 in.
CHECK_GAGE_MM = "1381.125"
FLANGEWAY_MM = "38.1"


def content(hours: float = 12) -> dict[str, Any]:
    """What a sheet of two zones says, as far as the record needs it."""
    wire = procedure_in_force("manganese-wire", date(2026, 11, 2))
    work = RepairWork(
        component=ComponentKind.FROG,
        design=FrogDesign.SELF_GUARDED_MANGANESE,
        steel=Steel.MANGANESE,
        zones=(
            ZoneWork(Zone.POINT, 120.0, 40.0, 12.0),
            ZoneWork(Zone.GUARD_FACE, 150.0, 30.0, 8.0),
        ),
    )
    detail = estimate(work, wire, Conditions(15, 15), 7).as_dict()
    back = START + timedelta(hours=hours)
    settings = wire.settings
    return {
        "component": {"design": "self_guarded_manganese"},
        "track_time": {
            "planned_start": START.isoformat(),
            "hand_back_at": back.isoformat(),
            "chance": 0.97,
        },
        "briefing": [asdict(point) for point in briefing()],
        "zones": detail["zones"],
        "defects": [{"reference": "D-1"}, {"reference": "D-2"}],
        "stages": stages_by_the_clock(detail, START, back),
        "probabilities": detail["remaining"]["probabilities"],
        "materials": detail["materials"],
        "procedure": {"id": wire.id, "interpass": {"limit_degc": wire.interpass.limit_degc}},
        "acceptance": [
            limit("guard_check_gage", "not_less_than", CHECK_GAGE_MM),
            limit("flangeway_depth", "not_less_than", FLANGEWAY_MM),
            limit("tread_wear", "not_more_than", "9.525"),
        ],
        "penetrant": {
            "penetrant_dwell_min": settings.penetrant_dwell_min,
            "developing_min": settings.developing_min,
            "penetrant_cold_degc": settings.penetrant_cold_degc,
            "penetrant_hot_degc": settings.penetrant_hot_degc,
            "lowest_degc": 5.0,
            "read_before_min": 60.0,
            "accept_level": "none",
        },
        "set_chance": 0.9,
    }


def limit(quantity: str, compare: str, mm: str) -> dict[str, Any]:
    return {
        "title": quantity,
        "quantity": quantity,
        "compare": compare,
        "limit_mm": mm,
        "limit": mm,
        "clause": "213",
    }


def sheet(hours: float = 12, **values: Any) -> FieldSheet:
    return sheet_facts("S-1", content(hours) | values)


GUARD, POINT = "1-guard_face", "2-point"


class Taps:
    """Events by minute after the start of the track time; each tap is one more."""

    def __init__(self, device: str = "a", by: str = "Ada") -> None:
        self.device, self.by = device, by
        self.events: list[Event] = []

    def __call__(self, kind: str, minute: float, /, **data: Any) -> str:
        seq = len(self.events) + 1
        name = str(uuid5(SPACE, f"{self.device} {seq}"))
        of = Kind(kind)
        at = START + timedelta(minutes=minute)
        self.events.append(Event(name, self.device, seq, of, at, self.by, read_data(of, data)))
        return name

    def stage(self, key: str, begin: float, end: float) -> None:
        self("stage_started", begin, stage=key)
        self("stage_ended", end, stage=key)

    def zone(self, sheet: FieldSheet, zone: str, minute: float) -> float:
        """All stages of one zone, five minutes each, with their hold points."""
        for stage in sheet.of_zone(zone):
            if stage.kind == "layer":
                if stage.key.endswith("01"):
                    self("carbon_removed", minute, zone=zone)
                self("pass_temperature", minute, zone=zone, degc="90", place_mm="25")
            self.stage(stage.key, minute, minute + 5)
            minute += 5
        if zone == GUARD:
            self("guard_face_restored", minute, zone=zone)
        return minute

    def proved(self, minute: float, **readings: str) -> float:
        """Penetrant as it must be and clean, then the final readings."""
        self("stage_started", minute, stage="penetrant")
        self("penetrant", minute, step="applied", surface_degc="20")
        self("penetrant", minute + 10, step="wiped")
        self("penetrant", minute + 11, step="developed")
        self("penetrant", minute + 23, step="read")
        self("penetrant_clean", minute + 23)
        self("stage_ended", minute + 24, stage="penetrant")
        given = {"guard_check_gage": "1390", "flangeway_depth": "45", "tread_wear": "0"}
        for quantity, value in (given | readings).items():
            self("measurement", minute + 25, quantity=quantity, value_mm=value)
        self.stage("final_measuring", minute + 24, minute + 30)
        self.stage("clearing", minute + 30, minute + 35)
        return minute + 35

    def begun(self, sheet: FieldSheet) -> None:
        self("started", 0)
        self("briefing", 0, points=list(range(1, sheet.briefing_points + 1)))
        self.stage("briefing", 0, 5)
        if any(stage.key == "travel_in" for stage in sheet.stages):
            self.stage("travel_in", 5, 8)
        self.stage("measuring", 8, 10)

    def whole(self, sheet: FieldSheet, **readings: str) -> float:
        self.begun(sheet)
        minute = self.zone(sheet, GUARD, 10)
        minute = self.zone(sheet, POINT, minute)
        self.stage("cooling_down", minute, minute + 5)
        minute = self.proved(minute + 5, **readings)
        self("handed_back", minute, state="restored", qualified_person="Bo Ek")
        return minute


def mm(value: str) -> Decimal:
    return Decimal(value)
