"""A rule set from its TOML files, and the rows of it that are in force on a day."""

import tomllib
from calendar import month_name
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import Any

from repairs.triage.decision import Effect
from repairs.triage.inspection_rows import InspectionRow
from repairs.triage.rail_rows import ActionRow, RailDefectRow
from repairs.triage.read import FROM_MEMORY, READ, RuleError, read_row, read_source
from repairs.triage.rows import (
    AdviceRow,
    ChoiceRow,
    ConditionRow,
    DueRow,
    ExceptionRow,
    LeftOutRow,
    LimitRow,
    Row,
    SettingRow,
    SpeedRow,
)

RULES_FOLDER = Path(__file__).parent / "rules"
OWNER_FILES = ("owner_choices.toml", "owner_due.toml")
"""The railway's own choices where a law leaves them open."""

FEDERAL = "us-49cfr213"
FILES = {
    FEDERAL: ("us_49cfr213.toml", "us_49cfr213_113.toml", "us_49cfr213_inspection.toml"),
    "ca-qc-s33r2": ("ca_qc_s33r2.toml",),
    "eu-inf-tsi": ("eu_inf_tsi.toml",),
}
"""The rule sets as shipped, by id: the files of the law, each read together with the railway's."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where rows come from; ``checked`` says how their text was verified.

    ``since`` is the day from which the text as read is known to be in force: that an earlier
    edition said the same is from memory, and a row says so when an earlier day is judged.
    """

    key: str
    title: str
    publisher: str
    edition: str
    checked: str
    year: int | None = None
    since: date | None = None


@dataclass(frozen=True, slots=True, eq=False)
class RuleSet:
    """All rows of a rule set with their sources, whatever their dates."""

    id: str
    title: str
    edition: str
    sources: Mapping[str, Source]
    speeds: tuple[SpeedRow, ...] = ()
    limits: tuple[LimitRow, ...] = ()
    exceptions: tuple[ExceptionRow, ...] = ()
    conditions: tuple[ConditionRow, ...] = ()
    rail_defects: tuple[RailDefectRow, ...] = ()
    actions: tuple[ActionRow, ...] = ()
    choices: tuple[ChoiceRow, ...] = ()
    due: tuple[DueRow, ...] = ()
    advice: tuple[AdviceRow, ...] = ()
    settings: tuple[SettingRow, ...] = ()
    inspections: tuple[InspectionRow, ...] = ()
    left_out: tuple[LeftOutRow, ...] = ()
    has_classes: bool = field(init=False)
    """Whether speeds go by class of track; then the class must be known."""

    def __post_init__(self) -> None:
        known = any(row.track_class is not None for row in self.speeds)
        object.__setattr__(self, "has_classes", known)

    def rows(self) -> tuple[Row, ...]:
        """Every row of every table."""
        return tuple(row for table in TABLES.values() for row in getattr(self, table.held_in))

    @property
    def said(self) -> str:
        """The set by its title and edition, as it is named in a sentence."""
        return f"the {self.title}, edition of {_month(self.edition)}"

    def setting(self, name: str) -> SettingRow:
        """The row of a setting; LookupError when no row of that name is in force."""
        for row in self.settings:
            if row.setting == name:
                return row
        raise LookupError(f"{self.title}: no setting {name} is in force. Add a [[setting]] row.")


@dataclass(frozen=True, slots=True)
class _Table:
    row: type[Row]
    held_in: str


TABLES: dict[str, _Table] = {
    "speed": _Table(SpeedRow, "speeds"),
    "limit": _Table(LimitRow, "limits"),
    "exception": _Table(ExceptionRow, "exceptions"),
    "condition": _Table(ConditionRow, "conditions"),
    "rail_defect": _Table(RailDefectRow, "rail_defects"),
    "action": _Table(ActionRow, "actions"),
    "choice": _Table(ChoiceRow, "choices"),
    "due": _Table(DueRow, "due"),
    "advice": _Table(AdviceRow, "advice"),
    "setting": _Table(SettingRow, "settings"),
    "inspection": _Table(InspectionRow, "inspections"),
    "left_out": _Table(LeftOutRow, "left_out"),
}
"""The tables a rule file may hold, the row each is read as, and where the rule set keeps them."""


def said_rule_sets(rule_set: str, edition: str) -> str:
    """The sets a decision names in ``rule_set`` and ``edition``, by their titles and editions.

    A set that is no longer shipped is said by the id that was kept.
    """
    pairs = zip(rule_set.split(" & "), edition.split(" & "), strict=True)
    return "; ".join(_said_one(one, of) for one, of in pairs)


def _said_one(rule_set: str, edition: str) -> str:
    base, _, own = rule_set.partition("+")
    title = shipped_rules(base).title if base in FILES else f"set of rules {base}"
    laid_over = f", with the {own}'s own figures" if own else ""
    return f"{title}{laid_over}, edition of {_month(edition)}"


def _month(edition: str) -> str:
    """``2026-11`` as ``November 2026``; an edition that is no month is said as it stands."""
    year, _, month = edition.partition("-")
    known = month.isdigit() and 1 <= int(month) <= 12
    return f"{month_name[int(month)]} {year}" if known else edition


def federal_rules() -> RuleSet:
    """The rule set for US federal track with the railway's own rows, as shipped."""
    return shipped_rules(FEDERAL)


def rule_sets() -> dict[str, RuleSet]:
    """Every rule set as shipped, by its id."""
    return {name: shipped_rules(name) for name in FILES}


@lru_cache(maxsize=len(FILES))
def shipped_rules(name: str) -> RuleSet:
    """The rule set of an id; KeyError when there is none, so take the id from ``FILES``."""
    files = (RULES_FOLDER / file for file in (*FILES[name], *OWNER_FILES))
    return load_rules(*files, sources=RULES_FOLDER / "sources.toml")


def load_rules(*files: Path, sources: Path) -> RuleSet:
    """Read a rule set; the first file names it. RuleError says file, row and what to put right."""
    known = {
        key: read_source(Source, key, table, sources.name)
        for key, table in _read_toml(sources).items()
    }
    held: dict[str, list[Row]] = {table.held_in: [] for table in TABLES.values()}
    heads = []
    for file in files:
        document = _read_toml(file)
        head = _head(document, file.name)
        heads.append(head)
        for name, rows in document.items():
            table = _table(name, file.name)
            marked = [{"railway_may_set": head["railway_may_set"], **row} for row in rows]
            held[table.held_in] += [read_row(table.row, row, known, file.name) for row in marked]
    tables: dict[str, Any] = {name: tuple(rows) for name, rows in held.items()}
    first = heads[0]
    rule_set = RuleSet(first["id"], first["title"], first["edition"], known, **tables)
    _check_whole(rule_set)
    return rule_set


@lru_cache(maxsize=256)
def rules_in_force(rule_set: RuleSet, on: date) -> RuleSet:
    """The rule set with only the rows in force on a day: of each rule the newest that has begun.

    RuleError when the law had no limits or no speed table yet: a decision then would rest on
    nothing, or on the railway's own rows alone.
    """
    kept: dict[str, Any] = {
        table.held_in: tuple(
            _as_checked(row, rule_set.sources, on)
            for row in _newest(getattr(rule_set, table.held_in), on)
        )
        for table in TABLES.values()
    }
    in_force = replace(rule_set, **kept)
    law = [row for row in in_force.limits if not row.railway_may_set]
    if not law or (rule_set.speeds and not in_force.speeds):
        raise RuleError(
            f"{rule_set.title}: no speeds and limits are in force on {on}. The oldest row begins "
            f"on {min(row.start for row in rule_set.limits if not row.railway_may_set)}; "
            "use a later date or add rows."
        )
    return in_force


def _newest(rows: tuple[Row, ...], on: date) -> tuple[Row, ...]:
    begun = [row for row in rows if row.start <= on]
    latest: dict[str, date] = {}
    for row in begun:
        latest[row.rule] = max(row.start, latest.get(row.rule, row.start))
    return tuple(
        row for row in begun if row.start == latest[row.rule] and (row.end is None or on < row.end)
    )


def _as_checked(row: Row, sources: Mapping[str, Source], on: date) -> Row:
    """The row, marked as from memory where its text was read only in a later edition."""
    since = sources[row.source].since
    if since is None or on >= since or row.checked not in READ:
        return row if row.checked_note or not row.why else replace(row, checked_note=row.why)
    note = f"the text was read as of {since:%d %b %Y}; that it said the same before is from memory"
    return replace(row, checked=FROM_MEMORY, checked_note=note)


def _read_toml(file: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise RuleError(f"{file.name} cannot be read as TOML: {error}") from error


def _head(document: dict[str, Any], file: str) -> dict[str, Any]:
    head = document.pop("rule_set", None)
    named = {"id", "title", "edition"}
    if not isinstance(head, dict) or set(head) - {"railway_may_set"} != named:
        raise RuleError(
            f"{file}: needs a [rule_set] table with id, title and edition, and at most "
            "railway_may_set = true where the law leaves the rows of the file open."
        )
    return {"railway_may_set": False, **head}


def _table(name: str, file: str) -> _Table:
    if name not in TABLES:
        raise RuleError(f"{file}: [[{name}]] is not a table. Use one of {', '.join(TABLES)}.")
    return TABLES[name]


def _check_whole(rule_set: RuleSet) -> None:
    """Refuse doubles and names that lead nowhere: they would be rules that silently do nothing."""
    seen: set[tuple[str, date]] = set()
    for row in rule_set.rows():
        if (row.rule, row.start) in seen:
            raise RuleError(f"{row.rule} has two rows that start on {row.start}. Remove one.")
        seen.add((row.rule, row.start))
    limits = {row.rule for row in rule_set.limits}
    for exception in rule_set.exceptions:
        if exception.relaxes not in limits:
            raise RuleError(f"{exception.rule} relaxes {exception.relaxes}, which is no limit row.")
    letters = {row.letter for row in rule_set.actions}
    wanted = {a for row in rule_set.rail_defects for a in (*row.actions, *row.or_actions)}
    wanted |= {row.instead for row in rule_set.actions if row.instead}
    if wanted - letters:
        raise RuleError(f"No [[action]] row has the letter {', '.join(sorted(wanted - letters))}.")
    by_letter = {row.letter: row for row in rule_set.actions}
    for row in rule_set.rail_defects:
        first, other = ([by_letter[a] for a in some] for some in (row.actions, row.or_actions))
        if other and _strictness(first) < _strictness(other):
            raise RuleError(
                f"{row.rule}: `or_actions` are stricter than `actions`. The stricter stand in "
                "`actions`, for they hold until a qualified person chooses."
            )


def _strictness(actions: list[ActionRow]) -> tuple[bool, Decimal]:
    """Whether trains are stopped, then the lower the highest speed the more."""
    caps = [a.cap_mph for a in actions if a.cap_mph is not None]
    return any(a.effect is Effect.STOP for a in actions), -min(caps, default=Decimal(1000))
