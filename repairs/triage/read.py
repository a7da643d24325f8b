"""One table of a TOML file as a typed row. Unknown keys and wrong values are refused by name."""

import types
from collections.abc import Collection, Mapping
from dataclasses import MISSING, fields
from datetime import date
from decimal import Decimal
from enum import Enum
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from repairs.triage.decision import Effect
from repairs.triage.inspection_rows import InspectionRow
from repairs.triage.rows import ExceptionRow, LeftOutRow, LimitRow, Row, SpeedRow
from repairs.triage.where import Where
from turnouts.analysis.units import Dimension, UnitError, parse

T = TypeVar("T")
R = TypeVar("R", bound=Row)

RAILWAYS_OWN = "railway's own rule"
NOT_READ = "not read"
READ = ("text read", "text read in a secondary copy", RAILWAYS_OWN)
FROM_MEMORY = "from memory"
CHECKED = (*READ, FROM_MEMORY, NOT_READ)
UNPUBLISHED = ("common-practice", "from-memory", "assumed")
"""Sources that are no publication; a row that rests on one must say why."""

LENGTHS = frozenset({"value", "over", "up_to", "depth_over", "length_over", "left_under"})
"""Keys typed as a length with its unit, such as ``5/8 in`` or ``1.5 mm``."""


class RuleError(ValueError):
    """A rule file that cannot be used; the text names file, row and key, and what to put there."""


def read_source(kind: type[T], key: str, table: Any, file: str) -> T:
    """One entry of the list of sources."""
    entry = _fill(kind, {"key": key, **_as_table(table, file, key)}, f"{file}, source {key}")
    if getattr(entry, "checked") not in (*CHECKED, *UNPUBLISHED):  # noqa: B009
        raise RuleError(f"{file}, source {key}: checked must be one of {', '.join(CHECKED)}.")
    return entry


def read_row(kind: type[R], table: Any, sources: Mapping[str, Any], file: str) -> R:
    """One row. ``checked`` comes from its source unless the row says its own."""
    given = dict(_as_table(table, file, kind.__name__))
    place = f"{file}, rule {given.get('rule', '(no name)')}"
    source = str(given.get("source", ""))
    if source not in sources:
        raise RuleError(f"{place}: source {source!r} is not in sources.toml. Add it there.")
    given.setdefault("checked", sources[source].checked)
    if given["checked"] not in (*CHECKED, *UNPUBLISHED):
        raise RuleError(f"{place}: checked must be one of {', '.join(CHECKED)}.")
    row = _fill(kind, given, place)
    if source in UNPUBLISHED and not row.why:
        raise RuleError(f"{place}: source {source} needs a sentence in `why`.")
    if isinstance(row, LimitRow):
        _check_limit(row, place)
    if isinstance(row, ExceptionRow) and not row.classes:
        raise RuleError(f"{place}: name the classes of track the exception is for.")
    if isinstance(row, SpeedRow) and row.any_class == (row.track_class is not None):
        raise RuleError(f"{place}: give either `track_class` or `any_class = true`.")
    if isinstance(row, InspectionRow):
        _check_inspection(row, place)
    if row.checked == NOT_READ and not isinstance(row, LeftOutRow):
        raise RuleError(f"{place}: a text that was not read gives no rule; use [[left_out]].")
    return row


def _check_inspection(row: InspectionRow, place: str) -> None:
    given = [row.days is not None, row.months is not None, row.before_use]
    if given.count(True) != 1:
        raise RuleError(f"{place}: give one of `days`, `months` and `before_use`.")


def _check_limit(row: LimitRow, place: str) -> None:
    if (row.value is None) == (not row.by_class):
        raise RuleError(f"{place}: give either `value` or `by_class`, not both and not neither.")
    if row.by_class and set(row.by_class) - {0} != {1, 2, 3, 4, 5}:
        raise RuleError(f"{place}: `by_class` must name each class from 1 to 5.")
    if row.effect not in (Effect.CLASS, Effect.CAP, Effect.JUDGE):
        raise RuleError(f"{place}: the effect of a limit is class, cap or judge.")
    if row.effect is Effect.CAP and row.cap_mph is None:
        raise RuleError(f"{place}: effect cap needs `cap_mph`.")
    if row.effect is Effect.CLASS and row.cap_mph is not None:
        raise RuleError(f"{place}: effect class takes its speed from the class, not `cap_mph`.")
    if (row.from_defect is None) != (row.defect_part is None):
        raise RuleError(f"{place}: `from_defect` and `defect_part` go together.")
    if row.quantity is None and row.from_defect is None:
        raise RuleError(f"{place}: nothing to measure; give `quantity` or `from_defect`.")


def _as_table(table: Any, file: str, name: str) -> Mapping[str, Any]:
    if not isinstance(table, dict):
        raise RuleError(f"{file}: {name} must be a table.")
    return table


def _fill(kind: type[T], given: Mapping[str, Any], place: str) -> T:
    known = {f.name: f for f in fields(kind)}  # type: ignore[arg-type]
    unknown = sorted(set(given) - set(known))
    if unknown:
        raise RuleError(
            f"{place}: {', '.join(unknown)} is not a key here. Use {', '.join(sorted(known))}."
        )
    needed = [
        name
        for name, f in known.items()
        if name not in given and f.default is MISSING and f.default_factory is MISSING
    ]
    if needed:
        raise RuleError(f"{place}: {', '.join(needed)} is missing.")
    hints = get_type_hints(kind)
    values = {key: _convert(value, hints[key], key, place) for key, value in given.items()}
    return kind(**values)


def _convert(value: Any, hint: Any, key: str, place: str) -> Any:
    if get_origin(hint) in (Union, types.UnionType):
        hint = next(part for part in get_args(hint) if part is not type(None))
    if hint is Decimal:
        return _decimal(value, key, place)
    if hint is Where:
        return _fill(Where, _as_table(value, place, key), f"{place}, {key}")
    if get_origin(hint) in (frozenset, tuple):
        return _many(value, hint, key, place)
    if get_origin(hint) is not None and issubclass(get_origin(hint), Mapping):
        return {int(c): _length(v, key, place) for c, v in _as_table(value, place, key).items()}
    if isinstance(hint, type) and issubclass(hint, Enum):
        return _member(value, hint, key, place)
    if hint in (str, int, bool, date) and type(value) is hint:
        return value
    raise RuleError(f"{place}: {key} = {value!r} must be of type {hint.__name__}.")


def _many(value: Any, hint: Any, key: str, place: str) -> Collection[Any]:
    if not isinstance(value, list):
        raise RuleError(f"{place}: {key} must be a list.")
    inner = get_args(hint)[0]
    kind: type[Any] = get_origin(hint)
    made: Collection[Any] = kind(_convert(item, inner, key, place) for item in value)
    return made


def _member(value: Any, hint: type[Enum], key: str, place: str) -> Enum:
    try:
        return hint(value)
    except ValueError:
        known = ", ".join(str(member.value) for member in hint)
        raise RuleError(f"{place}: {key} = {value!r} is not known. Use one of {known}.") from None


def _decimal(value: Any, key: str, place: str) -> Decimal:
    if key in LENGTHS:
        return _length(value, key, place)
    if type(value) is int:
        return Decimal(value)
    raise RuleError(f"{place}: {key} = {value!r} must be a whole number.")


def _length(value: Any, key: str, place: str) -> Decimal:
    try:
        return parse(value, None, Dimension.LENGTH).normalize()
    except (UnitError, TypeError) as error:
        raise RuleError(f"{place}: {key} = {value!r} is not a length: {error}") from error
