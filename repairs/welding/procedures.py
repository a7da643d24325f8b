"""Welding procedures as dated, sourced data: which is in force, and which suit a component."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from repairs.welding.refusals import NoProcedure, RowRefusal
from repairs.welding.rows_toml import HERE, Mark, Rows, read_row, read_rows
from repairs.welding.settings import Settings, settings_from
from turnouts.analysis.terms import ComponentKind, Steel

PROCESSES = ("FCAW", "SMAW")


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
    """One edition of a welding procedure, in force from ``start`` until the next edition."""

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

    def assumptions(self) -> tuple[str, ...]:
        """A sentence for each setting that has no published source."""
        said = [row.assumption for row in self.rows.values()]
        return tuple(sentence for sentence in said if sentence)


def procedure_in_force(procedure_id: str, on: date) -> Procedure:
    """The edition of one procedure that governs on a day.

    Raises NoProcedure when the id is unknown or its first edition starts later.
    """
    editions = all_editions()
    if procedure_id not in editions:
        known = ", ".join(sorted(editions))
        raise NoProcedure(f"There is no procedure {procedure_id}; those on file are {known}.")
    started = [edition for edition in editions[procedure_id] if edition.start <= on]
    if not started:
        first = editions[procedure_id][0].start
        raise NoProcedure(
            f"Procedure {procedure_id} starts on {first}, after {on}; choose a later day of work "
            "or add an earlier edition."
        )
    return started[-1]


def procedures_for(steel: Steel, component: ComponentKind, on: date) -> tuple[Procedure, ...]:
    """The procedures in force on a day for this steel and component, fastest deposit first.

    Raises NoProcedure with a sentence when none is.
    """
    found = [
        max(started, key=lambda edition: edition.start)
        for editions in all_editions().values()
        if (started := [e for e in editions if e.start <= on])
    ]
    fitting = [p for p in found if steel in p.steels and component in p.components]
    if not fitting:
        raise NoProcedure(
            f"No welding procedure in force on {on} covers a {component.label.lower()} of "
            f"{steel.label.lower()} steel; replace the part, or have an engineer add a procedure."
        )
    return tuple(sorted(fitting, key=lambda p: (-p.settings.deposit_rate_kg_per_h, p.id)))


@cache
def all_editions() -> Mapping[str, tuple[Procedure, ...]]:
    """Every edition of every procedure on file, oldest first, by procedure id."""
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


def _edition(table: Mapping[str, Any], edition: Mapping[str, Any], name: str) -> Procedure:
    where = f"{name}, edition of {edition['start']}"
    if edition["process"] not in PROCESSES:
        raise RowRefusal(f"{where}: process must be one of {', '.join(PROCESSES)}.")
    rows = read_rows(edition["settings"], where)
    settings = settings_from(rows)
    if (edition["process"] == "SMAW") != (settings.rod_length_mm is not None):
        raise RowRefusal(f"{where}: rod length and stub belong to SMAW, and only to it.")
    rules = tuple(_interpass(key, rule, where) for key, rule in edition["interpass_rules"].items())
    chosen = [rule for rule in rules if rule.key == edition["interpass_rule"]]
    if not chosen:
        raise RowRefusal(f"{where}: interpass_rule {edition['interpass_rule']} is not listed.")
    if chosen[0].limit_degc <= settings.preheat_min_degc:
        raise RowRefusal(f"{where}: the interpass ceiling is not above the preheat; correct one.")
    return Procedure(
        id=table["id"],
        title=table["title"],
        start=edition["start"],
        process=edition["process"],
        steels=tuple(Steel(steel) for steel in edition["steels"]),
        components=tuple(ComponentKind(kind) for kind in edition["components"]),
        interpass=chosen[0],
        interpass_rules=rules,
        settings=settings,
        rows=rows,
    )


def _interpass(key: str, rule: Mapping[str, Any], where: str) -> InterpassRule:
    standing = {field: rule[field] for field in ("mark", "source", "note") if field in rule}
    row = read_row(key, {"value": rule["limit_degc"], "unit": "degC", **standing}, where)
    return InterpassRule(key, row.number, float(rule["place_mm"]), row.mark, row.source, row.note)
