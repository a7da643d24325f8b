"""What the reducer and the clock need of a job sheet, read from its content.

Sheets issued before a figure was kept on them still open: what they lack is worked out from what
they have, or taken from ``rows/field.toml``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from repairs.triage.rows import Compare
from repairs.welding.rows_toml import table_of
from repairs.welding.timeline import HandBack
from turnouts.analysis.terms import FrogDesign, Quantity, Zone

COARSE = (0.5, 0.95)
"""The only probabilities for which a sheet issued without ``remaining`` tells the time left."""


@dataclass(frozen=True, slots=True)
class SheetStage:
    """One stage: of which zone (empty: of none), its minutes, and what is left from its beginning.

    ``hand_back`` is the state of the track as it ends. ``rows_work_min`` is the median of its work
    before learning, None on sheets that do not have it.
    """

    key: str
    name: str
    kind: str
    zone: str
    hand_back: HandBack
    open_cavity: bool
    median_min: float
    fixed_min: float
    work_min: float
    sigma: float
    wait_min: float
    rows_work_min: float | None
    remaining: tuple[float, ...]
    planned_start: datetime

    @property
    def cuts(self) -> bool:
        """Whether it changes the metal: nothing measured before it is a final reading."""
        return bool(self.zone)


@dataclass(frozen=True, slots=True)
class SheetZone:
    """One zone, in the order of work, with the defect it repairs."""

    key: str
    zone: str
    defect: str


@dataclass(frozen=True, slots=True)
class Limit:
    """What a final reading is held against. ``quantity`` is None where the sheet does not say."""

    title: str
    quantity: Quantity | None
    compare: Compare | None
    limit_mm: Decimal
    words: str
    clause: str

    def allows(self, value_mm: Decimal) -> bool:
        """Whether a reading is within it, exact at the limit itself."""
        if self.compare is Compare.NOT_MORE_THAN:
            return value_mm <= self.limit_mm
        if self.compare is Compare.NOT_LESS_THAN:
            return value_mm >= self.limit_mm
        return value_mm < self.limit_mm

    def margin_mm(self, value_mm: Decimal) -> Decimal:
        """How far inside the limit a reading lies; below 0 outside."""
        if self.compare is Compare.NOT_LESS_THAN:
            return value_mm - self.limit_mm
        return self.limit_mm - value_mm


@dataclass(frozen=True, slots=True)
class PenetrantRule:
    """Times in minutes and temperatures in degC of the penetrant test, and what it may show."""

    dwell_min: float
    developing_min: float
    cold_degc: Decimal
    hot_degc: Decimal
    lowest_degc: Decimal
    read_before_min: float
    accept_level: str


@dataclass(frozen=True, slots=True)
class FieldSheet:
    """One job sheet as the record is judged by it."""

    number: str
    starts_at: datetime
    hand_back_at: datetime
    stages: tuple[SheetStage, ...]
    zones: tuple[SheetZone, ...]
    probabilities: tuple[float, ...]
    limits: tuple[Limit, ...]
    penetrant: PenetrantRule | None
    interpass_degc: Decimal | None
    guard_before_point: bool
    briefing_points: int
    materials: Mapping[str, str]
    set_chance: float

    def stage(self, key: str) -> SheetStage | None:
        """The stage of a key, or None."""
        return next((stage for stage in self.stages if stage.key == key), None)

    def of_zone(self, zone: str) -> tuple[SheetStage, ...]:
        """The stages of one zone, in their order."""
        return tuple(stage for stage in self.stages if stage.zone == zone)

    def zones_of(self, where: Zone) -> tuple[str, ...]:
        """Keys of the zones that lie at one place of the component."""
        return tuple(zone.key for zone in self.zones if zone.zone == where.value)

    @property
    def guard_is_gaged(self) -> bool:
        """Whether the guarding face, no part of the job, is gaged before the point is opened."""
        points, faces = self.zones_of(Zone.POINT), self.zones_of(Zone.GUARD_FACE)
        return self.guard_before_point and bool(points) and not faces


def sheet_facts(number: str, content: Mapping[str, Any]) -> FieldSheet:
    """The facts of a sheet's content. Times carry their offset, lengths are exact."""
    time = content["track_time"]
    interpass = content["procedure"].get("interpass")
    hand_back_at = datetime.fromisoformat(time["hand_back_at"])
    probabilities = tuple(content.get("probabilities") or COARSE)
    return FieldSheet(
        number=number,
        starts_at=datetime.fromisoformat(time["planned_start"]),
        hand_back_at=hand_back_at,
        stages=_stages(content["stages"], hand_back_at),
        zones=tuple(
            SheetZone(zone["key"], zone["zone"], defect["reference"])
            for zone, defect in zip(content["zones"], content["defects"], strict=True)
        ),
        probabilities=probabilities,
        limits=tuple(_limit(row) for row in content["acceptance"]),
        penetrant=_penetrant(content),
        interpass_degc=_exact(interpass["limit_degc"]) if interpass else None,
        guard_before_point=content["component"]["design"]
        == FrogDesign.SELF_GUARDED_MANGANESE.value,
        briefing_points=len(content["briefing"]),
        materials={row["key"]: row["unit"] for row in content["materials"]},
        set_chance=content.get("set_chance") or _clock("set_chance"),
    )


def _clock(name: str) -> float:
    return table_of("field", "clock").number(name)


def _stages(rows: Sequence[Mapping[str, Any]], hand_back_at: datetime) -> tuple[SheetStage, ...]:
    medians = [row["median_min"] for row in rows]
    return tuple(_stage(row, sum(medians[place:]), hand_back_at) for place, row in enumerate(rows))


def _stage(row: Mapping[str, Any], left_p50: float, hand_back_at: datetime) -> SheetStage:
    head, _, last = row["key"].rpartition(".")
    latest = datetime.fromisoformat(row["last_start_at"])
    p95 = (hand_back_at - latest) / timedelta(minutes=1)
    return SheetStage(
        key=row["key"],
        name=row["name"],
        kind=last.split("-", 1)[0],
        zone=head,
        hand_back=HandBack(row["hand_back"]),
        open_cavity=row["open_cavity"],
        median_min=row["median_min"],
        fixed_min=row.get("fixed_min", 0.0),
        work_min=row.get("work_min", row["median_min"]),
        sigma=row.get("sigma", 0.0),
        wait_min=row.get("wait_min", 0.0),
        rows_work_min=row.get("rows_work_min"),
        remaining=tuple(row.get("remaining") or (min(left_p50, p95), p95)),
        planned_start=datetime.fromisoformat(row["begins_at"]),
    )


def _limit(row: Mapping[str, Any]) -> Limit:
    return Limit(
        title=row["title"],
        quantity=Quantity(row["quantity"]) if row.get("quantity") else None,
        compare=Compare(row["compare"]) if row.get("compare") else None,
        limit_mm=Decimal(row["limit_mm"]),
        words=row["limit"],
        clause=row["clause"],
    )


def _penetrant(content: Mapping[str, Any]) -> PenetrantRule | None:
    """The test of the sheet, or None where it is not part of this track time."""
    test = content.get("penetrant")
    if not test or not any(row["key"] == "penetrant" for row in content["stages"]):
        return None
    rows, shown = table_of("field", "penetrant"), table_of("field", "indications")
    return PenetrantRule(
        dwell_min=test["penetrant_dwell_min"],
        developing_min=test["developing_min"],
        cold_degc=_exact(test["penetrant_cold_degc"]),
        hot_degc=_exact(test["penetrant_hot_degc"]),
        lowest_degc=_exact(test.get("lowest_degc", rows.number("lowest_degc"))),
        read_before_min=test.get("read_before_min", rows.number("read_before_min")),
        accept_level=test.get("accept_level", shown["accept_level"].text),
    )


def _exact(number: float) -> Decimal:
    return Decimal(str(number))
