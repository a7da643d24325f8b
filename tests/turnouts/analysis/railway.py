"""What the analysis is tried on: the files of an invented railway, read into its arguments."""

import csv
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from pathlib import Path

from fixtures.planted import LEAST_GUARD_CHECK_MM, pass_of
from turnouts.analysis.hints.hints import ComponentFacts, DefectFact, ReadingFact, WeldFact
from turnouts.analysis.ranking.comparison import Member
from turnouts.analysis.ranking.offenders import Observed
from turnouts.analysis.recurrence.histories import History
from turnouts.analysis.recurrence.lives import Life
from turnouts.analysis.recurrence.log_rank import By
from turnouts.analysis.terms import ComponentKind, DefectKind, Quantity, Route, Steel, Zone
from turnouts.analysis.tonnage import Traffic, passed_mgt
from turnouts.analysis.units import Dimension, parse

BROKE = {DefectKind.SPALL, DefectKind.SHELL, DefectKind.CHIP, DefectKind.CRACK}


@dataclass
class Frog:
    """One frog in one turnout, with what happened to it while it stood there."""

    serial: str
    turnout: str
    design: str
    steel: str
    made_on: date
    since: date
    until: date
    mgt: float = 0.0
    defects: list[DefectFact] = field(default_factory=list)
    readings: list[ReadingFact] = field(default_factory=list)
    welds: list[WeldFact] = field(default_factory=list)

    @property
    def half_year(self) -> str:
        return f"{self.made_on.year}/{1 + (self.made_on.month > 6)}"

    @property
    def facts(self) -> ComponentFacts:
        return ComponentFacts(
            self.serial,
            ComponentKind.FROG,
            tuple(self.defects),
            readings=tuple(self.readings[-4:]),
            welds=tuple(self.welds),
        )


def frogs_of(folder: Path) -> list[Frog]:
    """All frogs of a railway while its record runs; tonnage counts from the record's first day."""
    return [frog for part in sorted(folder.iterdir()) for frog in _Part(part).frogs()]


def observed(frogs: list[Frog]) -> dict[str, Observed]:
    """Breaks on each frog against those of its design at its tonnage, by serial and turnout."""
    events, mgt = defaultdict(int), defaultdict(float)
    for frog in frogs:
        events[frog.design] += _breaks(frog)
        mgt[frog.design] += frog.mgt
    return {
        f"{frog.serial} {frog.turnout}": Observed(
            frog.serial, _breaks(frog), events[frog.design] / mgt[frog.design] * frog.mgt
        )
        for frog in frogs
        if frog.mgt > 0 and events[frog.design]
    }


def chips(frogs: list[Frog]) -> dict[str, list[Observed]]:
    """Chipped points of frogs with guards past their limit, and of the others."""
    rate = sum(_chips(f) for f in frogs) / sum(f.mgt for f in frogs)
    groups: dict[str, list[Observed]] = {"tight": [], "others": []}
    for frog in (f for f in frogs if f.mgt > 0):
        tight = any(r.limit_mm is not None and r.value_mm < r.limit_mm for r in frog.readings)
        groups["tight" if tight else "others"].append(
            Observed(frog.serial, _chips(frog), rate * frog.mgt)
        )
    return groups


def weld_lives(frogs: list[Frog]) -> dict[str, list[Life]]:
    """Welds with noted passes: tonnage to the next break in the same zone, hot and cool ones."""
    lives: dict[str, list[Life]] = {"hot": [], "cool": []}
    for frog in frogs:
        for weld in frog.welds:
            if weld.hottest_pass_degc is None or weld.pass_limit_degc is None:
                continue
            broke = [
                d.mgt - weld.mgt
                for d in frog.defects
                if d.zone is weld.zone and d.kind in BROKE and d.mgt > weld.mgt
            ]
            ran = min(broke) if broke else frog.mgt - weld.mgt
            if ran > 0:
                hot = weld.hottest_pass_degc > weld.pass_limit_degc
                lives["hot" if hot else "cool"].append(Life(ran, bool(broke)))
    return lives


def members(frogs: list[Frog]) -> list[Member]:
    """The frogs as a family that is split by the half-year they were made in, defects alone."""
    return [
        Member(
            key=f"{frog.serial} {frog.turnout}",
            like=f"{frog.design} {frog.steel}",
            facts={By.BATCH: frog.half_year},
            history=History(
                frog.serial,
                tuple(d.mgt for d in frog.defects if d.kind in BROKE and 0 < d.mgt <= frog.mgt),
                frog.mgt,
            ),
            repairs=(),
            wear={},
        )
        for frog in frogs
        if frog.mgt > 0
    ]


def _breaks(frog: Frog) -> int:
    return sum(d.kind in BROKE for d in frog.defects)


def _chips(frog: Frog) -> int:
    return sum(d.kind is DefectKind.CHIP and d.zone is Zone.POINT for d in frog.defects)


def _rows(folder: Path, sheet: str) -> Iterator[dict[str, str]]:
    with (folder / f"{sheet}.csv").open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


class _Part:
    """One folder of the railway: its frogs, and what was found, measured and welded on them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.seen = {
            row["reference"]: (row["turnout"], date.fromisoformat(row["inspected_at"][:10]))
            for row in _rows(folder, "inspections")
        }
        self.traffic = self._traffic()
        self.classes = self._classes()
        self.standing: dict[str, list[Frog]] = defaultdict(list)

    def frogs(self) -> list[Frog]:
        self._stand()
        self._find()
        self._weld()
        self._measure()
        return [frog for frogs in self.standing.values() for frog in frogs]

    def _at(self, turnout: str, day: date) -> tuple[Frog, float] | None:
        """The frog that stood there on a day, and the tonnage over it by then."""
        for frog in self.standing[turnout]:
            if frog.since <= day <= frog.until:
                return frog, float(passed_mgt(self.traffic[turnout], frog.since, day))
        return None

    def _stand(self) -> None:
        first, last = (pick(day for _, day in self.seen.values()) for pick in (min, max))
        made = {row["serial"]: row for row in _rows(self.folder, "components")}
        for row in _rows(self.folder, "installations"):
            if row["position"] != "frog" or row["serial"] not in made:
                continue
            part, turnout = made[row["serial"]], row["turnout"]
            since = max(date.fromisoformat(row["installed_on"]), first)
            until = date.fromisoformat(row["removed_on"]) if row["removed_on"] else last
            frog = Frog(
                serial=row["serial"],
                turnout=turnout,
                design=part["design"],
                steel=part["steel"],
                made_on=date.fromisoformat(part["made_on"]),
                since=since,
                until=max(until, since),
            )
            frog.mgt = float(passed_mgt(self.traffic[turnout], frog.since, frog.until))
            self.standing[turnout].append(frog)

    def _find(self) -> None:
        for row in _rows(self.folder, "defects"):
            turnout, day = self.seen[row["inspection"]]
            place = self._at(turnout, day) if row["position"] == "frog" else None
            if place is not None:
                kind, zone = DefectKind(row["kind"]), Zone(row["zone"])
                place[0].defects.append(DefectFact(row["reference"], kind, zone, place[1], day))

    def _weld(self) -> None:
        zones = {d.reference: (f, d.zone) for fs in self.standing.values() for f in fs
                 for d in f.defects}  # fmt: skip
        for row in _rows(self.folder, "defect_steps"):
            noted = pass_of(row["note"])
            if noted is None or row["defect"] not in zones:
                continue
            frog, zone = zones[row["defect"]]
            day = date.fromisoformat(row["at"][:10])
            mgt = float(passed_mgt(self.traffic[frog.turnout], frog.since, day))
            hottest, limit = (Decimal(t) for t in noted)
            steel = Steel(frog.steel)
            frog.welds.append(WeldFact(row["defect"], zone, mgt, day, steel, hottest, limit))

    def _measure(self) -> None:
        for row in _rows(self.folder, "measurements"):
            if row["quantity"] != "guard_check_gage":
                continue
            turnout, day = self.seen[row["inspection"]]
            place = self._at(turnout, day)
            if place is not None:
                text, unit = next((v, k[7:-1]) for k, v in row.items() if k.startswith("value ["))
                value = parse(text, unit, Dimension.LENGTH)
                limit = Decimal(str(LEAST_GUARD_CHECK_MM[self.classes[turnout]]))
                named = Quantity.GUARD_CHECK_GAGE
                place[0].readings.append(
                    ReadingFact(row["inspection"], named, value, limit, True, day)
                )

    def _traffic(self) -> dict[str, list[Traffic]]:
        found: dict[str, list[Traffic]] = defaultdict(list)
        for row in _rows(self.folder, "traffic"):
            mgt = Decimal(next(v for k, v in row.items() if k.startswith("annual_tonnage")))
            since = date.fromisoformat(row["since"])
            found[row["turnout"]].append(Traffic(Route(row["route"]), since, mgt))
        return found

    def _classes(self) -> dict[str, int]:
        """Class of track by turnout; tracks without a class are excepted."""
        stretches = list(_rows(self.folder, "track_classes"))
        return {
            row["code"]: next(
                (
                    int(s["class"])
                    for s in stretches
                    if (s["line"], s["track"]) == (row["line"], row["track"])
                    and Decimal(s["from_milepost"])
                    <= Decimal(row["milepost"])
                    <= Decimal(s["to_milepost"])
                ),
                0,
            )
            for row in _rows(self.folder, "turnouts")
        }
