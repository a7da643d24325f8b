"""Pure results as plain JSON, small enough to keep one with every decision."""

import dataclasses
from datetime import date
from decimal import Decimal
from enum import Enum
from functools import cache
from typing import Any

EMPTY: tuple[Any, ...] = (None, "", (), [])


def as_json(answer: Any) -> Any:
    """Exact decimals and dates become text; what is empty is left out."""
    kind: Any = type(answer)
    if kind is str or kind is bool or kind is int or answer is None:
        return answer  # most values are these, and thousands of answers are kept in one run
    if names := _fields(kind):
        values = ((name, as_json(getattr(answer, name))) for name in names)
        return {name: value for name, value in values if value not in EMPTY}
    if isinstance(answer, list | tuple | frozenset):
        return [as_json(part) for part in answer]
    if isinstance(answer, Enum):
        return answer.value
    return str(answer) if isinstance(answer, Decimal | date) else answer


@cache
def _fields(kind: type) -> tuple[str, ...]:
    """The names of a dataclass's fields; none for anything else."""
    if not dataclasses.is_dataclass(kind):
        return ()
    return tuple(field.name for field in dataclasses.fields(kind))
