"""Welding procedures as dated, sourced files: what an edition is, how it is read, and checked."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from repairs.welding.refusals import RowRefusal
from repairs.welding.rows_toml import HERE, Mark, Rows, read_row, read_rows
from repairs.welding.settings import Settings, settings_from
from turnouts.analysis.terms import ComponentKind, Steel

PROCESSES = ("FCAW", "SMAW")

LIMIT_RANGE_DEGC = (40, 600)
PLACE_RANGE_MM = (0, 200)
"""Least and most an interpass ceiling and its place may be: to catch a value in the wrong unit."""

MANGANESE_PREHEAT_MOST_DEGC = 100
"""Manganese steel goes brittle when it is held warm: its preheat never lies above the coldest
interpass ceiling that the procedures list, a foundry's 100 degC (``mn-casting-repair``)."""


@dataclass(frozen=True, slots=True)
class InterpassRule:
    """One published or usual ceiling for the metal before the next bead, and where to measure it.

    Sources disagree, so a procedure lists several and names the one it keeps to.
    """

    key: str
    limit_degc: float
    place_mm: float
    mark: Mark
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class Procedure:
    """One edition of a welding procedure, in force from ``start`` until the next edition.

    ``own_edition`` is the id of the railway's own edition; None for an edition as it is shipped.
    """

    id: str
    title: str
    start: date
    process: str
    steels: tuple[Steel, ...]
    components: tuple[ComponentKind, ...]
    interpass: InterpassRule
    interpass_rules: tuple[InterpassRule, ...]
    settings: Settings
    rows: Rows = field(compare=False, repr=False)
    own_edition: int | None = None

    def assumptions(self) -> tuple[str, ...]:
        """A sentence for each setting that nobody answers for: neither a text nor the railway."""
        said = [row.assumption for row in self.rows.values()]
        return tuple(sentence for sentence in said if sentence)


@cache
def all_editions() -> Mapping[str, tuple[Procedure, ...]]:
    """Every shipped edition of every procedure on file, oldest first, by procedure id."""
    read = [read_procedure(path) for path in sorted((HERE / "procedures").glob("*.toml"))]
    return {editions[0].id: editions for editions in read}


def read_procedure(path: Path) -> tuple[Procedure, ...]:
    """The editions in one file, oldest first; raises RowRefusal with place and remedy."""
    table = tomllib.loads(path.read_text("utf-8"))
    if table.get("id") != path.stem:
        raise RowRefusal(f"{path.name}: the id must be the file's name, {path.stem}.")
    if not table.get("edition"):
        raise RowRefusal(f"{path.name} holds no [[edition]]; add one with its start date.")
    editions = sorted(
        (_edition(table, edition, path.name) for edition in table["edition"]),
        key=lambda edition: edition.start,
    )
    starts = [edition.start for edition in editions]
    if len(set(starts)) != len(starts):
        raise RowRefusal(f"{path.name}: two editions start on one day; give each its own.")
    return tuple(editions)


def checked(procedure: Procedure) -> Procedure:
    """The procedure, if its parts can stand together; raises RowRefusal with place and remedy."""
    where, settings = procedure.rows.where, procedure.settings
    if (procedure.process == "SMAW") != (settings.rod_length_mm is not None):
        raise RowRefusal(f"{where}: rod length and stub belong to SMAW, and only to it.")
    if (procedure.process == "FCAW") != (settings.wire_feed_m_per_min is not None):
        raise RowRefusal(f"{where}: wire feed and wire density belong to FCAW, and only to it.")
    for rule in procedure.interpass_rules:
        _check_range(rule.limit_degc, LIMIT_RANGE_DEGC, "degC", f"{where}, interpass {rule.key}")
        _check_range(rule.place_mm, PLACE_RANGE_MM, "mm", f"{where}, interpass {rule.key}")
    if procedure.interpass.limit_degc <= settings.preheat_min_degc:
        raise RowRefusal(f"{where}: the interpass ceiling is not above the preheat; correct one.")
    _check_steels(procedure)
    return procedure


def _check_range(value: float, within: tuple[float, float], unit: str, where: str) -> None:
    low, high = within
    if not low <= value <= high:
        raise RowRefusal(
            f"{where}: {value:g} {unit} is outside {low:g} to {high:g}; check the value and its "
            "unit."
        )


def _check_steels(procedure: Procedure) -> None:
    """What each steel can never take, whatever else is settled."""
    where, settings = procedure.rows.where, procedure.settings
    if Steel.MANGANESE in procedure.steels:
        if settings.preheat_max_degc > MANGANESE_PREHEAT_MOST_DEGC:
            raise RowRefusal(
                f"{where}, preheat_max_degc: manganese steel is not preheated; keep it at "
                f"{MANGANESE_PREHEAT_MOST_DEGC} degC or below."
            )
    elif settings.cooling != "still_air" or settings.after_weld != "slow_cool":
        raise RowRefusal(
            f"{where}: rail steel hardens when it cools fast; keep cooling still_air and "
            "after_weld slow_cool."
        )


def _edition(table: Mapping[str, Any], edition: Mapping[str, Any], name: str) -> Procedure:
    where = f"{name}, edition of {edition['start']}"
    if edition["process"] not in PROCESSES:
        raise RowRefusal(f"{where}: process must be one of {', '.join(PROCESSES)}.")
    rows = read_rows(edition["settings"], where)
    rules = tuple(_interpass(key, rule, where) for key, rule in edition["interpass_rules"].items())
    chosen = [rule for rule in rules if rule.key == edition["interpass_rule"]]
    if not chosen:
        raise RowRefusal(f"{where}: interpass_rule {edition['interpass_rule']} is not listed.")
    return checked(
        Procedure(
            id=table["id"],
            title=table["title"],
            start=edition["start"],
            process=edition["process"],
            steels=tuple(Steel(steel) for steel in edition["steels"]),
            components=tuple(ComponentKind(kind) for kind in edition["components"]),
            interpass=chosen[0],
            interpass_rules=rules,
            settings=settings_from(rows),
            rows=rows,
        )
    )


def _interpass(key: str, rule: Mapping[str, Any], where: str) -> InterpassRule:
    standing = {field: rule[field] for field in ("mark", "source", "note") if field in rule}
    row = read_row(key, {"value": rule["limit_degc"], "unit": "degC", **standing}, where)
    return InterpassRule(key, row.number, float(rule["place_mm"]), row.mark, row.source, row.note)
