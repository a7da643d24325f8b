"""Worked cases a track engineer can read: TOML tables of what is given, what is expected, and why.

A file names its rule set (``rules``, the federal one when left out) and in ``[sound]`` the readings
of a part with nothing wrong; a case changes, adds or leaves out single ones. ``or_typed`` gives
readings and sizes of the defect in the other unit: the same answer is expected of them.
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from repairs.triage.facts import (
    Case,
    ComponentFacts,
    DefectFacts,
    HeavyPoint,
    InspectionFacts,
    Reading,
    TrackFacts,
)
from repairs.triage.rules import FEDERAL, FILES
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
from turnouts.analysis.units import Dimension, parse

REPORTED = date(2026, 11, 20)
"""The day of a case that names none."""
_GIVEN = {
    "component",
    "track_class",
    "defect",
    "readings",
    "without",
    "on",
    "reading_age_days",
    "inspected",
    "or_typed",
}
_SIZES = ("depth", "length", "metal_left", "hardened")


@dataclass(frozen=True, slots=True)
class WorkedCase:
    """One case with its place, the rule set it is for, and what is expected of the answer.

    ``typed`` holds the readings and sizes the case is about as they stand in the file, with their
    units; those of a sound part are not among them.
    """

    file: str
    name: str
    rules: str
    clause: str
    case: Case
    expect: Mapping[str, Any]
    typed: Mapping[str, str]

    @property
    def is_refused(self) -> bool:
        """Whether no answer is expected: no rules are in force on its day."""
        return "refused" in self.expect


def read_worked_cases(folder: Path) -> tuple[WorkedCase, ...]:
    """Every case of every file of a folder, by file name; ValueError names one that is wrong."""
    return tuple(case for file in sorted(folder.glob("*.toml")) for case in _read(file))


def _read(file: Path) -> list[WorkedCase]:
    document = tomllib.loads(file.read_text(encoding="utf-8"))
    rules = document.get("rules", FEDERAL)
    if rules not in FILES:
        raise ValueError(f"{file.name}: rules = {rules!r}; use one of {', '.join(FILES)}.")
    return [
        WorkedCase(
            file=file.stem,
            name=name,
            rules=rules,
            clause=table["clause"],
            case=_case(document["sound"], given, f"{file.name}, {table['name']}"),
            expect=table["expect"],
            typed=_typed(given),
        )
        for table in document["case"]
        for name, given in _typings(table["name"], table["given"])
    ]


def _typings(name: str, given: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The case as given, and once more with its values typed in the other unit."""
    yield name, given
    other = given.get("or_typed")
    if other is None:
        return
    sizes = {key: text for key, text in other.items() if key in _SIZES}
    readings = {key: text for key, text in other.items() if key not in _SIZES}
    changed = {**given, "readings": {**given.get("readings", {}), **readings}}
    if sizes:
        changed["defect"] = {**given["defect"], **sizes}
    yield f"{name}, as {', '.join(other.values())}", changed


def _typed(given: dict[str, Any]) -> dict[str, str]:
    readings = given.get("readings", {})
    typed = {name: v["value"] if isinstance(v, dict) else v for name, v in readings.items()}
    defect = given.get("defect", {})
    return typed | {name: defect[name] for name in _SIZES if name in defect}


def _case(sound: dict[str, Any], given: dict[str, Any], place: str) -> Case:
    if set(given) - _GIVEN:
        raise ValueError(f"{place}: {', '.join(sorted(set(given) - _GIVEN))} is not a key.")
    on = given.get("on", REPORTED)
    readings = {**sound, **given.get("readings", {})}
    for name in given.get("without", []):
        del readings[name]
    taken = date.fromordinal(on.toordinal() - given.get("reading_age_days", 0))
    inspected = given.get("inspected")
    return Case(
        component=_component(given["component"]),
        defect=_defect(given.get("defect")),
        readings=tuple(_reading(name, value, taken) for name, value in readings.items()),
        track=TrackFacts(given.get("track_class")),
        reported_on=on,
        decided_on=on,
        inspected=None if inspected is None else InspectionFacts(**inspected),
    )


def _component(given: dict[str, Any]) -> ComponentFacts:
    heavy = given.get("heavy_point")
    return ComponentFacts(
        kind=ComponentKind(given["kind"]),
        design=FrogDesign(given["design"]) if "design" in given else None,
        steel=Steel(given["steel"]) if "steel" in given else None,
        heavy_point=HeavyPoint(**heavy) if heavy is not None else None,
        crossing_angle_deg=_number(given.get("crossing_angle_deg")),
        movable_guard_rails=given.get("movable_guard_rails"),
        earlier_welds_here=given.get("earlier_welds", 0),
    )


def _defect(given: dict[str, Any] | None) -> DefectFacts | None:
    if given is None:
        return None
    return DefectFacts(
        kind=DefectKind(given["kind"]),
        zone=Zone(given["zone"]),
        length_mm=_mm(given.get("length")),
        depth_mm=_mm(given.get("depth")),
        uncertainty_mm=_mm(given.get("give_or_take", "0 mm")) or Decimal(0),
        orientation=Orientation(given["orientation"]) if "orientation" in given else None,
        reaches_edge=given.get("reaches_edge"),
        reaches_base=given.get("reaches_base"),
        head=HeadReach(given["head"]) if "head" in given else None,
        flaw=RailFlaw(given["flaw"]) if "flaw" in given else None,
        head_share_percent=_number(given.get("head_share_percent")),
        access=given.get("access"),
        metal_left_mm=_mm(given.get("metal_left")),
        hardened_mm=_mm(given.get("hardened")),
        damaged=given.get("damaged"),
    )


def _reading(name: str, given: Any, on: date) -> Reading:
    table = given if isinstance(given, dict) else {"value": given}
    value = parse(table["value"], None, Dimension.LENGTH)
    give_or_take = parse(table.get("give_or_take", "0 mm"), None, Dimension.LENGTH)
    return Reading(
        Quantity(name), value, on, f"reading of {name}", give_or_take, _mm(table.get("back"))
    )


def _mm(text: str | None) -> Decimal | None:
    return None if text is None else parse(text, None, Dimension.LENGTH)


def _number(given: Any) -> Decimal | None:
    return None if given is None else Decimal(str(given))
