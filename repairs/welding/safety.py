"""Cautions with their clauses, and the filter shade by current. Local rules come first."""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from repairs.welding.procedures import Procedure
from repairs.welding.refusals import OutsideValidity
from repairs.welding.rows_toml import HERE, read_rows, sources
from repairs.welding.work import Conditions
from turnouts.analysis.terms import Steel

MM_PER_32ND_IN = 25.4 / 32


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution in plain words, with the clause it comes from and the source's title."""

    text: str
    clause: str
    source: str


def filter_shade(process: str, current_a: float, electrode_mm: float | None = None) -> int:
    """Least filter shade for a process (SMAW, FCAW, CAC-A) by current and stick diameter.

    29 CFR 1910.133(a)(5). The table's bands share their ends, so a value on an end takes the darker
    shade, and a stick takes the darker of its two columns. Raises OutsideValidity for an unknown
    process or a current beyond the table.
    """
    for table in _file()["shade"].values():
        if table["when"] == process:
            break
    else:
        raise OutsideValidity(f"The shade table has no process {process}; ask the safety officer.")
    shades = [_band(table["current_a"], current_a, f"{process} current of {current_a:g} A")]
    if electrode_mm is not None and table["electrode_32nds"]:
        size = electrode_mm / MM_PER_32ND_IN
        shades.append(_band(table["electrode_32nds"], size, f"electrode of {electrode_mm:g} mm"))
    return max(shades)


def gouging_current_a() -> float:
    """Working current of the gouging carbon."""
    return read_rows(_file()["gouging"], "safety.toml [gouging]").number("current_a")


def weld_cautions(
    procedure: Procedure, steel: Steel, conditions: Conditions
) -> tuple[Caution, ...]:
    """Cautions for a weld repair by one procedure on one day."""
    settings = procedure.settings
    when = {"always", "weld", "gouge", "grind", "hot"}
    if steel is Steel.MANGANESE:
        when.add("manganese")
    if settings.post_heat_degc or conditions.rail_degc < settings.preheat_min_degc:
        when.add("torch")
    electrode = settings.filler_diameter_mm if procedure.process == "SMAW" else None
    gouge_a = gouging_current_a()
    return _cautions(
        when,
        current_a=settings.current_a,
        weld_shade=filter_shade(procedure.process, settings.current_a, electrode),
        gouge_a=gouge_a,
        gouge_shade=filter_shade("CAC-A", gouge_a),
    )


def grinding_cautions(steel: Steel) -> tuple[Caution, ...]:
    """Cautions for grinding without welding."""
    return _cautions({"always", "grind"} | ({"manganese"} if steel is Steel.MANGANESE else set()))


def _cautions(when: set[str], **values: float) -> tuple[Caution, ...]:
    return tuple(
        Caution(
            text=row["text"].format(**values),
            clause=row["clause"],
            source=sources()[row["source"]].title if row["source"] else "",
        )
        for row in _file()["caution"]
        if when & set(row["when"])
    )


def _band(bands: Sequence[Sequence[float]], value: float, what: str) -> int:
    """The darkest shade of the bands that hold a value, ends included."""
    held = [shade for low, high, shade in bands if low <= value <= high]
    if not held:
        top = bands[-1][1]
        raise OutsideValidity(f"A {what} is beyond the shade table, which ends at {top:g}.")
    return int(max(held))


@cache
def _file() -> dict[str, Any]:
    return tomllib.loads((HERE / "rows" / "safety.toml").read_text("utf-8"))
