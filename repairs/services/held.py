"""Lists that go by what holds: an engineer's word where there is one, else the machine's answer.

What holds is worked out in :mod:`repairs.services.standing` and nowhere else. Only of the few
defects that were overruled does it differ from the decision's own columns, so a list takes those
columns and puts the other values over them.
"""

from collections import defaultdict
from typing import Any, TypeVar

from django.db.models import Case, Field, Model, QuerySet, Value, When

from repairs.models import Decision, Overrule
from repairs.services.standing import standing_for

M = TypeVar("M", bound=Model)

COLUMNS = ("traffic", "disposition", "due_on")


def with_held(rows: QuerySet[M], *, decision: str, key: str) -> QuerySet[M]:
    """``rows`` with ``held_traffic``, ``held_disposition`` and ``held_due_on`` to filter and sort.

    ``decision`` is the path from a row to the columns of its current decision, and ``key`` the
    attribute of a decision that is the row's primary key. Two queries more, however many rows.
    """
    named = rows.order_by().values("pk")
    other = _held_otherwise(Decision.objects.current().filter(**{f"{key}__in": named}), key)
    held: QuerySet[M] = rows.annotate(
        **{
            f"held_{name}": Case(
                *(When(pk__in=keys, then=Value(value)) for value, keys in other[name].items()),
                default=f"{decision}{name}",
                output_field=_field(name),
            )
            for name in COLUMNS
        }
    )
    return held


def _held_otherwise(decisions: QuerySet[Decision], key: str) -> dict[str, dict[Any, list[int]]]:
    """Column by column the values that hold against the decision's own, and of which rows."""
    overruled = decisions.filter(defect__in=Overrule.objects.values("decision__defect"))
    found = list(overruled.defer("detail"))
    standing = standing_for(found)
    other: dict[str, dict[Any, list[int]]] = {name: defaultdict(list) for name in COLUMNS}
    for row in found:
        for name in COLUMNS:
            value = getattr(standing[row.pk], name)
            if value != getattr(row, name):
                other[name][value].append(getattr(row, key))
    return other


def _field(name: str) -> "Field[Any, Any]":
    field: Field[Any, Any] = Decision._meta.get_field(name).clone()  # type: ignore[union-attr]
    return field
