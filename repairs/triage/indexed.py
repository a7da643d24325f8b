"""The rows that may speak of a case, sorted out once for each kind of component and defect.

Most rows of a rule set are about something else, and a network has thousands of defects of a few
kinds: asking each row of each defect anew would cost most of the time.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

from repairs.triage.facts import Case, ComponentFacts
from repairs.triage.rail_rows import RailDefectRow
from repairs.triage.rows import (
    AdviceRow,
    ChoiceRow,
    ConditionRow,
    ExceptionRow,
    LimitRow,
)
from repairs.triage.rules import RuleSet
from turnouts.analysis.terms import ComponentKind, DefectKind, FrogDesign, Steel

Spoken = TypeVar("Spoken", ChoiceRow, ConditionRow, RailDefectRow)
Asked = tuple[tuple[Spoken, bool], ...]
"""Rows, each with whether it is known that it speaks of the component: design or steel decide."""


@dataclass(frozen=True, slots=True)
class RowsOn:
    """The rows of a rule set that may speak of one kind of defect in one kind of component."""

    limits: tuple[tuple[LimitRow, bool], ...]
    conditions: tuple[tuple[ConditionRow, bool], ...]
    rail_defects: tuple[tuple[RailDefectRow, bool], ...]
    choices: tuple[tuple[ChoiceRow, bool], ...]
    advice: tuple[AdviceRow, ...]


@dataclass(frozen=True, slots=True)
class Links:
    """How limit rows of a rule set hang together, by their names.

    ``reach_of`` gives for a depth the row that asks how far back it reaches, ``together`` the group
    of a row that counts only with others.
    """

    limits: Mapping[str, LimitRow]
    conditions: Mapping[str, ConditionRow]
    eased_by: Mapping[str, tuple[ExceptionRow, ...]]
    reach_of: Mapping[str, LimitRow]
    together: Mapping[str, LimitRow]


def rows_on(rules: RuleSet, case: Case) -> RowsOn:
    """The rows that may speak of the case; of a fact nobody recorded they may."""
    part = case.component
    kind = None if case.defect is None else case.defect.kind
    return _rows_on(rules, part.kind, part.design, part.steel, kind)


@lru_cache(maxsize=8192)
def _rows_on(
    rules: RuleSet,
    kind: ComponentKind,
    design: FrogDesign | None,
    steel: Steel | None,
    defect: DefectKind | None,
) -> RowsOn:
    component = ComponentFacts(kind, design, steel)
    limits = ((row, row.where.speaks_of_component(component)) for row in rules.limits)
    return RowsOn(
        limits=tuple((row, meant is True) for row, meant in limits if meant is not False),
        conditions=_asked(rules.conditions, component, defect),
        rail_defects=_asked(rules.rail_defects, component, defect),
        choices=_asked(rules.choices, component, defect),
        advice=tuple(
            row for row in rules.advice if row.where.speaks_of_component(component) is not False
        ),
    )


def _asked(
    rows: tuple[Spoken, ...], component: ComponentFacts, defect: DefectKind | None
) -> Asked[Spoken]:
    if defect is None:
        return ()
    meant = (
        (row, row.where.speaks_of_component(component))
        for row in rows
        if not row.where.kinds or defect in row.where.kinds
    )
    return tuple((row, answer is True) for row, answer in meant if answer is not False)


@lru_cache(maxsize=256)
def links(rules: RuleSet) -> Links:
    """The names of a rule set's limits and conditions, and what hangs on which limit."""
    return Links(
        limits={row.rule: row for row in rules.limits},
        conditions={row.rule: row for row in rules.conditions},
        eased_by={
            limit.rule: tuple(e for e in rules.exceptions if e.relaxes == limit.rule)
            for limit in rules.limits
        },
        reach_of={row.extent_of: row for row in rules.limits if row.extent_of},
        together={row.rule: row for row in rules.limits if row.together},
    )
