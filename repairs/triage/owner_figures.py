"""The figures of a row that a railway may set, and how a row is held to the law."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

from repairs.triage.inspection_rows import InspectionRow
from repairs.triage.rail_rows import ActionRow
from repairs.triage.rows import (
    ChoiceRow,
    Compare,
    DueRow,
    ExceptionRow,
    LimitRow,
    Row,
    SettingRow,
)
from repairs.triage.rules import RuleSet
from turnouts.analysis.terms import Term

HIGHEST_SETTING = {"excepted_judged_as_class": 5}


class Figure(Term):
    """What of a row is set, with the kinds of row that hold it."""

    LIMIT = "limit"  # mm, of a limit or of an exception to one
    CAP = "cap_mph"
    DAYS = "days"
    MONTHS = "months"
    NUMBER = "number"
    DEPTH_OVER = "depth_over"
    LENGTH_OVER = "length_over"
    EARLIER_WELDS_OVER = "earlier_welds_over"


HELD_BY: dict[Figure, tuple[type[Row], ...]] = {
    Figure.LIMIT: (LimitRow, ExceptionRow),
    Figure.CAP: (LimitRow, ActionRow),
    Figure.DAYS: (DueRow, ActionRow, InspectionRow),
    Figure.MONTHS: (InspectionRow,),
    Figure.NUMBER: (SettingRow,),
    Figure.DEPTH_OVER: (ChoiceRow,),
    Figure.LENGTH_OVER: (ChoiceRow,),
    Figure.EARLIER_WELDS_OVER: (ChoiceRow,),
}
WHOLE = (Figure.CAP, Figure.DAYS, Figure.MONTHS, Figure.NUMBER, Figure.EARLIER_WELDS_OVER)
COUNTED = (Figure.DAYS, Figure.MONTHS, Figure.NUMBER, Figure.EARLIER_WELDS_OVER)


class FigureRefused(ValueError):
    """A figure that a row does not have or cannot take; the text says which would be taken."""


def changed(row: Row, figure: Figure, value: Decimal, track_class: int | None) -> Row:
    """The row with one figure set. FigureRefused when the row has no such figure."""
    _check_value(row, figure, value)
    if figure is Figure.LIMIT and isinstance(row, LimitRow):
        return _limit_changed(row, value, track_class)
    if track_class is not None:
        raise FigureRefused(f"{row.rule}: {figure.label.lower()} is the same on every class.")
    if figure is Figure.LIMIT:
        return replace(row, value=value)  # type: ignore[call-arg]
    if getattr(row, figure.value) is None:
        raise FigureRefused(f"{row.rule} does not go by {figure.label.lower()}.")
    given: dict[str, Any] = {figure.value: int(value) if figure in COUNTED else value}
    return replace(row, **given)


def held_to(row: Row, law: Row, figure: Figure, rules: RuleSet) -> Row:
    """The row with one figure no looser than the law's; of limits by class each class's own."""
    if figure is Figure.LIMIT and isinstance(row, LimitRow) and isinstance(law, LimitRow):
        return _limit_held(row, law)
    if isinstance(row, ExceptionRow) and isinstance(law, ExceptionRow):
        return _exception_held(row, law, rules)
    least = min(getattr(row, figure.value), getattr(law, figure.value))
    given: dict[str, Any] = {figure.value: least}
    return replace(row, **given)


def check_classes(row: Row) -> None:
    """Refuse a limit that is stricter on a lower class of track than on a higher one."""
    if not isinstance(row, LimitRow) or not row.by_class:
        return
    values = [row.by_class[track_class] for track_class in sorted(row.by_class)]
    if row.compare is Compare.NOT_LESS_THAN:
        ordered = values == sorted(values)
    else:
        ordered = values == sorted(values, reverse=True)
    if not ordered:
        raise FigureRefused(
            f"{row.rule}: a lower class of track would get a stricter limit than a higher one "
            f"({row.value_seen}). Set the higher classes at least as strictly."
        )


def _check_value(row: Row, figure: Figure, value: Decimal) -> None:
    if not isinstance(row, HELD_BY[figure]):
        raise FigureRefused(f"{row.rule} has no {figure.label.lower()} to set.")
    if value <= 0 or (figure in WHOLE and value != int(value)):
        kind = "a whole number above zero" if figure in WHOLE else "above zero"
        raise FigureRefused(f"{row.rule}: {figure.label.lower()} must be {kind}, not {value}.")
    if isinstance(row, SettingRow) and value > HIGHEST_SETTING.get(row.setting, value):
        most = HIGHEST_SETTING[row.setting]
        raise FigureRefused(f"{row.rule}: {row.title.lower()} goes up to {most}, not {value}.")


def _limit_changed(row: LimitRow, value: Decimal, track_class: int | None) -> LimitRow:
    if track_class is None:
        if row.by_class:
            return replace(row, by_class=dict.fromkeys(row.by_class, value))
        return replace(row, value=value)
    if row.together or row.extent_of:
        raise FigureRefused(f"{row.rule} holds on every class alike; set it for all of them.")
    limits = _by_class(row)
    if track_class not in limits:
        raise FigureRefused(f"{row.rule} has no limit on class {track_class}.")
    return replace(row, value=None, by_class={**limits, track_class: value})


def _by_class(row: LimitRow) -> dict[int, Decimal]:
    if row.value is not None:
        return dict.fromkeys(range(1, 6), row.value)
    return dict(row.by_class)


def _limit_held(row: LimitRow, law: LimitRow) -> LimitRow:
    pick = max if law.compare is Compare.NOT_LESS_THAN else min
    if row.value is not None and law.value is not None:
        return replace(row, value=pick(row.value, law.value))
    ones, others = _by_class(row), _by_class(law)
    return replace(row, value=None, by_class={c: pick(ones[c], others[c]) for c in ones})


def _exception_held(row: ExceptionRow, law: ExceptionRow, rules: RuleSet) -> ExceptionRow:
    """An exception that lifts a limit is tightened by any limit at all."""
    if row.value is None or law.value is None:
        return row
    relaxed = next(limit for limit in rules.limits if limit.rule == law.relaxes)
    pick = max if relaxed.compare is Compare.NOT_LESS_THAN else min
    return replace(row, value=pick(row.value, law.value))
