"""The rows of ``hints.toml``, read and checked."""

import tomllib
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from turnouts.analysis.sections import Source, sources
from turnouts.analysis.terms import ComponentKind, DefectKind, Quantity, Steel, Zone

FILE = Path(__file__).with_name("hints.toml")
UNPUBLISHED = frozenset({"common-practice", "from-memory", "assumed"})
_KEYS = frozenset(
    {
        "rule", "start", "source", "clause", "why", "title", "defects", "zones", "components",
        "figure_source", "figure_why", "look_next",
    }
)  # fmt: skip
_NEEDS = frozenset({"reading", "beside", "weld"})


class HintRowError(ValueError):
    """A row that cannot be used; the text names file, row and remedy."""


@dataclass(frozen=True, slots=True)
class NeedReading:
    """A reading on the unsafe side of its limit, or within a margin of it, in mm."""

    quantity: Quantity
    margin_mm: Decimal


@dataclass(frozen=True, slots=True)
class NeedBeside:
    """Another defect on the turnout, found so much tonnage before or after."""

    kinds: frozenset[DefectKind]
    before_mgt: float
    after_mgt: float


@dataclass(frozen=True, slots=True)
class NeedWeld:
    """A weld in the same zone not long before, with a pass so much hotter than allowed."""

    within_mgt: float
    hotter_by_degc: Decimal
    steels: frozenset[Steel]


Need = NeedReading | NeedBeside | NeedWeld


@dataclass(frozen=True, slots=True)
class HintRule:
    """One row. Empty zones or components mean any."""

    rule: str
    start: date
    source: Source
    clause: str
    why: str
    title: str
    defects: frozenset[DefectKind]
    zones: frozenset[Zone]
    components: frozenset[ComponentKind]
    need: Need
    figure_source: Source
    figure_why: str
    look_next: str


@cache
def hint_rules(path: Path = FILE) -> tuple[HintRule, ...]:
    """All rows of a file. HintRowError for a row that lacks or has too much."""
    rows = tomllib.loads(path.read_text("utf-8"))["hint"]
    return tuple(_rule(path, row) for row in rows)


def rules_on(day: date, path: Path = FILE) -> tuple[HintRule, ...]:
    """The rows in force on a day: of each rule the newest that has begun."""
    newest: dict[str, HintRule] = {}
    for row in sorted(hint_rules(path), key=lambda r: r.start):
        if row.start <= day:
            newest[row.rule] = row
    return tuple(newest.values())


def _rule(path: Path, row: dict[str, Any]) -> HintRule:
    where = f"{path.name}, rule {row.get('rule', '(no name)')}"
    needs = set(row) & _NEEDS
    if set(row) - _NEEDS != _KEYS or len(needs) != 1:
        raise HintRowError(
            f"{where}: a row has these keys and one of {', '.join(sorted(_NEEDS))}: "
            f"{', '.join(sorted(_KEYS))}."
        )
    for key, why in (("source", "why"), ("figure_source", "figure_why")):
        if row[key] not in sources():
            raise HintRowError(f"{where}: {row[key]} is not in sources.toml; add it there.")
        if row[key] in UNPUBLISHED and not row[why]:
            raise HintRowError(f"{where}: say in {why} why, for no publication stands behind it.")
    try:
        return _made(row, needs.pop())
    except (KeyError, TypeError, ValueError) as fault:
        raise HintRowError(f"{where}: {fault}. Correct the row.") from fault


def _made(row: dict[str, Any], needed: str) -> HintRule:
    return HintRule(
        rule=row["rule"],
        start=row["start"],
        source=sources()[row["source"]],
        clause=row["clause"],
        why=row["why"],
        title=row["title"],
        defects=frozenset(DefectKind(kind) for kind in row["defects"]),
        zones=frozenset(Zone(zone) for zone in row["zones"]),
        components=frozenset(ComponentKind(kind) for kind in row["components"]),
        need=_need(needed, row[needed]),
        figure_source=sources()[row["figure_source"]],
        figure_why=row["figure_why"],
        look_next=row["look_next"],
    )


def _need(needed: str, given: dict[str, Any]) -> Need:
    if needed == "reading":
        return NeedReading(Quantity(given["quantity"]), Decimal(given["margin_mm"]))
    if needed == "beside":
        kinds = frozenset(DefectKind(kind) for kind in given["kinds"])
        return NeedBeside(kinds, float(given["before_mgt"]), float(given["after_mgt"]))
    steels = frozenset(Steel(steel) for steel in given["steels"])
    return NeedWeld(float(given["within_mgt"]), Decimal(given["hotter_by_degc"]), steels)
