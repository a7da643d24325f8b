"""Pure results as plain JSON, small enough to keep one with every decision."""

import dataclasses
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from enum import Enum
from functools import cache, lru_cache
from typing import Any

from repairs.triage.decision import Finding, RowSeen

EMPTY: tuple[Any, ...] = ("", (), [])
SHARED = (Finding, RowSeen)
"""Parts that thousands of decisions of one run have in common."""


def as_json(answer: Any) -> Any:
    """Exact decimals and dates become text; what is empty is left out.

    Parts of the answer may be shared with other answers: read them, do not change them.
    """
    kind: Any = type(answer)
    return _writer(kind)(answer)


@cache
def _writer(kind: type) -> Callable[[Any], Any]:
    """How values of a type are written; chosen once, for a run writes millions of them."""
    if dataclasses.is_dataclass(kind):
        fields = _fields_of(kind)
        return lru_cache(maxsize=8192)(fields) if kind in SHARED else fields
    if issubclass(kind, list | tuple | frozenset):
        return _listed
    if issubclass(kind, Enum):
        return _value
    return str if issubclass(kind, Decimal | date) else _as_it_is


def _fields_of(kind: Any) -> Callable[[Any], dict[str, Any]]:
    names = tuple(field.name for field in dataclasses.fields(kind))

    def write(answer: Any) -> dict[str, Any]:
        written = {}
        for name in names:
            value = getattr(answer, name)
            if value is not None and value not in EMPTY:
                kind: Any = type(value)
                written[name] = _writer(kind)(value)
        return written

    return write


def _listed(parts: Any) -> list[Any]:
    kinds: list[Any] = [type(part) for part in parts]
    return [_writer(kind)(part) for kind, part in zip(kinds, parts, strict=True)]


def _value(term: Enum) -> Any:
    return term.value


def _as_it_is(value: Any) -> Any:
    return value
