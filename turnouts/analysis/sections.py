"""Rail sections, read from the rows of ``sections.toml``."""

import tomllib
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path

from turnouts.analysis.units import Dimension, parse

_FOLDER = Path(__file__).parent
_MEASURED = ("height", "base", "head", "web", "head_depth")


@dataclass(frozen=True, slots=True)
class Source:
    """A publication, and how its figures were checked."""

    key: str
    title: str
    publisher: str
    edition: str
    year: int
    checked: str


@dataclass(frozen=True, slots=True)
class Section:
    """A rail section as rolled. Lengths in mm, exactly as printed by the source."""

    name: str
    starts: date
    nominal: str
    height_mm: Decimal
    base_mm: Decimal
    head_mm: Decimal
    web_mm: Decimal
    head_depth_mm: Decimal
    source: Source
    clause: str
    area_mm2: Decimal
    area_source: Source
    area_clause: str
    mass_kg_per_m: Decimal
    mass_clause: str


@cache
def sources() -> dict[str, Source]:
    """The publications this folder's rows cite, by key."""
    rows = tomllib.loads((_FOLDER / "sources.toml").read_text("utf-8"))
    return {key: Source(key=key, **row) for key, row in rows.items()}


@cache
def sections() -> dict[str, Section]:
    """Every known rail section by name."""
    rows = tomllib.loads((_FOLDER / "sections.toml").read_text("utf-8"))["section"]
    return {row["name"]: _section(row) for row in rows}


def section_named(name: str) -> Section:
    """The section called ``name``; KeyError with a sentence when it is not in the table."""
    if name not in sections():
        raise KeyError(f"Rail section {name} is not in the table. Known: {', '.join(sections())}.")
    return sections()[name]


def _section(row: dict[str, str | date]) -> Section:
    texts = {key: value for key, value in row.items() if isinstance(value, str)}
    starts = row["starts"]
    if not isinstance(starts, date):
        raise TypeError(f"sections.toml: section {texts['name']}: starts is not a date.")
    measured = {f"{key}_mm": parse(texts[key], None, Dimension.LENGTH) for key in _MEASURED}
    return Section(
        name=texts["name"],
        starts=starts,
        nominal=texts["nominal"],
        source=sources()[texts["source"]],
        clause=texts["clause"],
        area_mm2=Decimal(texts["area_mm2"]),
        area_source=sources()[texts["area_source"]],
        area_clause=texts["area_clause"],
        mass_kg_per_m=Decimal(texts["mass_kg_per_m"]),
        mass_clause=texts["mass_clause"],
        **measured,
    )
