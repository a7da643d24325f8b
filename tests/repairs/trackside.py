"""Entries at the trackside for tests: a night's work on one sheet, tap by tap.

night = Night(sheet)
night.tap("started", 15)                     # 15 minutes into the track time
night.send(by=welder)                        # through the service, at the end of the night
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from repairs.field.sheet import FieldSheet
from repairs.models import JobSheet
from repairs.services.field_events import Taken, take_events
from repairs.services.field_rows import facts_of
from turnouts.models import Person

SPACE = UUID("3f1d1a52-5d0f-4c7c-9a53-0a3ad5a1f00d")

GOOD_MM = {
    "guard_check_gage": "1388",
    "guard_face_gage": "1340",
    "flangeway_width": "48",
    "flangeway_depth": "45",
    "point_wear_depth": "0",
    "point_wear_length": "0",
    "tread_wear": "0",
    "track_gage": "1435",
    "raised_guard_wear": "0",
}
"""Final readings in mm inside the limits of class 3 (49 CFR 213.53, 213.137 to 213.143)."""


@dataclass
class Night:
    """The taps of one device, in minutes after the track time begins."""

    sheet: JobSheet
    device: str = "phone-a"
    taps: list[dict[str, Any]] = field(default_factory=list)
    seq: int = 0

    @property
    def facts(self) -> FieldSheet:
        return facts_of(self.sheet)

    def at(self, minute: float) -> datetime:
        return self.sheet.starts_at + timedelta(minutes=minute)

    def tap(self, kind: str, minute: float, /, **data: Any) -> str:
        self.seq += 1
        name = str(uuid5(SPACE, f"{self.sheet.number} {self.device} {self.seq}"))
        self.taps.append(
            {
                "id": name,
                "seq": self.seq,
                "kind": kind,
                "phone_at": self.at(minute).isoformat(),
                "data": data,
            }
        )
        return name

    def stage(self, key: str, begin: float, end: float) -> None:
        self.tap("stage_started", begin, stage=key)
        self.tap("stage_ended", end, stage=key)

    def whole(self, *, factor: float = 0.8, last: str = "clearing") -> float:
        """The whole work by the sheet, each stage in so much of its median, all of it good.

        The minute at which the track was handed back, or at which ``last`` ended.
        """
        self.tap("started", 15)
        self.tap("briefing", 16, points=list(range(1, self.facts.briefing_points + 1)))
        minute = 15.0
        for stage in self.facts.stages:
            end = minute + max(stage.median_min * factor, stage.fixed_min + 0.5)
            self._before(stage.key, stage.kind, stage.zone, minute)
            self.stage(stage.key, minute, end)
            self._after(stage.kind, stage.zone, minute, end)
            minute = end
            if stage.key == last and last != "clearing":
                return minute
        self.tap(
            "handed_back", minute, state="restored", qualified_person="Ada Lund", speed_kmh=None
        )
        return minute

    def _before(self, key: str, kind: str, zone: str, minute: float) -> None:
        if kind == "layer":
            if key.endswith("01"):
                self.tap("carbon_removed", minute - 0.5, zone=zone)
            self.tap("pass_temperature", minute - 0.2, zone=zone, degc=90, place_mm=25)

    def _after(self, kind: str, zone: str, begin: float, end: float) -> None:
        if kind == "profile_grinding" and zone.endswith("guard_face"):
            self.tap("guard_face_restored", end, zone=zone)
        if kind == "penetrant":
            self.tap("penetrant", begin, step="applied", surface_degc=20)
            self.tap("penetrant", begin + 10, step="wiped")
            self.tap("penetrant", begin + 10.2, step="developed")
            self.tap("penetrant", end - 0.1, step="read")
            self.tap("penetrant_clean", end)
        if kind == "final_measuring":
            for quantity in dict.fromkeys(
                limit.quantity.value for limit in self.facts.limits if limit.quantity
            ):
                self.tap("measurement", end - 0.1, quantity=quantity, value_mm=GOOD_MM[quantity])

    def send(self, by: Person, minute: float = 600, clock_off_s: float = 0.0) -> Taken:
        """Send all taps at once; the phone's clock is so many seconds slow."""
        at = self.at(minute)
        return take_events(
            by=by,
            sheet=self.sheet,
            device=self.device,
            phone_now=at - timedelta(seconds=clock_off_s),
            events=self.taps,
            at=at,
        )
