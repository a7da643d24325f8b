"""The railway's own editions of welding procedures as the pure package takes them."""

from collections.abc import Sequence
from typing import Any

from repairs.models import Estimate, OwnerProcedure, OwnerSetting
from repairs.welding.own_editions import (
    OWN_RULE,
    Change,
    OwnEdition,
    Value,
    laid_over,
    shipped_edition,
)
from repairs.welding.procedures import InterpassRule, Procedure
from repairs.welding.rows_toml import Mark


def approved_editions() -> tuple[OwnEdition, ...]:
    """Every edition that engineers approved, in two queries; their days say which is in force."""
    rows = OwnerProcedure.objects.filter(state="approved").prefetch_related("changes")
    return tuple(edition_of(row, list(row.changes.all())) for row in rows.order_by("pk"))


def edition_of(row: OwnerProcedure, settings: Sequence[OwnerSetting]) -> OwnEdition:
    """A row with its settings; one not yet approved as from its wished day."""
    return OwnEdition(
        id=row.pk or 0,
        procedure=row.procedure,
        base_since=row.base_since,
        start=row.begins_on or row.starts_on,
        changes=tuple(Change(one.key, typed_value(one.value), one.reason) for one in settings),
        interpass=row.interpass_rule or _own_rule(row),
    )


def typed_value(value: Any) -> Value:
    """A value as JSON holds it, as rows hold it: numbers as float, lists as tuple."""
    if isinstance(value, list):
        return tuple(value)
    return float(value) if isinstance(value, int | float) else str(value)


def _own_rule(row: OwnerProcedure) -> InterpassRule:
    limit, place = row.interpass_limit_degc, row.interpass_place_mm
    if limit is None or place is None:
        raise ValueError(f"{row} has no interpass rule; the database should have kept it out.")
    return InterpassRule(OWN_RULE, limit, place, Mark.RAILWAY, "", row.interpass_reason)


def edition_used(of: Estimate) -> Procedure:
    """The edition an estimate was made by, as it stood; raises NoProcedure when it is gone."""
    own = of.own_edition
    if own is None:
        return shipped_edition(of.procedure, of.procedure_since)
    return laid_over(edition_of(own, list(own.changes.all())))
