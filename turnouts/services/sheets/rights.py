"""Which rows of a sheet a person may read or write; asked of :mod:`turnouts.access`."""

from collections.abc import Collection
from typing import Any

from django.db.models import Model, Q, QuerySet

from turnouts.access import Action, territory_ids, visible
from turnouts.models import Person
from turnouts.services.sheets.spec import Lookup, Sheet

Rows = QuerySet[Any]


def within_reach(person: Person, sheet: Sheet, rows: Rows, action: Action) -> Rows:
    """``rows`` of a sheet without those that lie where ``person`` may not do ``action``."""
    if sheet.placed_by is None:
        return visible(person, rows, action)
    if territory_ids(person, action) is None:
        return rows
    return rows.filter(_placed(person, sheet, action)) if sheet.placed_by else rows.none()


def _placed(person: Person, sheet: Sheet, action: Action) -> Q:
    """Rows that name a place, and name none out of reach."""
    reached, nowhere = Q(), Q()
    for name in sheet.placed_by or ():
        target = sheet.model._meta.get_field(name).related_model
        if not isinstance(target, type):
            raise TypeError(f"{name} of sheet {sheet.name} names no other row.")
        inside = visible(person, target._default_manager.all(), action).values("pk")
        reached &= Q(**{f"{name}__isnull": True}) | Q(**{f"{name}__in": inside})
        nowhere &= Q(**{f"{name}__isnull": True})
    return reached & ~nowhere


def writable(person: Person, sheet: Sheet, pks: Collection[int]) -> set[int]:
    """Those of the rows that ``person`` may import into."""
    if all(territory_ids(person, action) is None for action in (Action.IMPORT, sheet.right)):
        return set(pks)
    rows = sheet.model._default_manager.filter(pk__in=pks).order_by()
    may_import = within_reach(person, sheet, rows, Action.IMPORT)
    return set(within_reach(person, sheet, may_import, sheet.right).values_list("pk", flat=True))


def readable(person: Person, sheet: Sheet, pks: Collection[int]) -> set[int]:
    """Those of the rows that an export would show ``person``."""
    rows = sheet.model._default_manager.filter(pk__in=pks).order_by()
    return set(within_reach(person, sheet, rows, sheet.see).values_list("pk", flat=True))


def nameable(person: Person, lookup: Lookup, action: Action = Action.IMPORT) -> QuerySet[Model]:
    """The rows that ``person`` may name in an import; with SEE those a row left as it is may."""
    rows = lookup.model._default_manager.order_by()
    return rows if lookup.of_all else visible(person, rows, action)
