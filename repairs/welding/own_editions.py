"""The railway's own editions of a procedure: settings of its own, laid over a shipped edition."""

from dataclasses import dataclass, replace
from datetime import date

from repairs.welding.procedure_files import InterpassRule, Procedure, all_editions, checked
from repairs.welding.refusals import NoProcedure, RowRefusal
from repairs.welding.rows_toml import Mark, Row, Rows
from repairs.welding.settings import settings_from

OWN_RULE = "railway"
"""The key of an interpass rule that is the railway's own."""

NOT_THE_RAILWAYS = frozenset({"penetrant_dwell_floor_min", "developing_floor_min"})
"""Published least times: a procedure is held against them, so no edition may move them."""

Value = float | str | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """One setting as the railway wants it; ``value`` is in the unit of the shipped row."""

    key: str
    value: Value
    reason: str


@dataclass(frozen=True, slots=True)
class OwnEdition:
    """One edition of the railway's own, in force from ``start`` until its next one.

    ``base_since`` is the start of the shipped edition it is laid over; it stays laid over that one
    when a newer edition is shipped, so that what was approved is what is in force. ``interpass``
    is the key of a rule the shipped edition lists, or a rule of the railway's own.
    """

    id: int
    procedure: str
    base_since: date
    start: date
    changes: tuple[Change, ...]
    interpass: str | InterpassRule


def laid_over(own: OwnEdition) -> Procedure:
    """The procedure as the railway's edition makes it.

    Raises RowRefusal with the sentence of the file reader where a value lies outside its range or
    does not stand together with the others; NoProcedure where its shipped edition is not on file.
    """
    base = shipped_edition(own.procedure, own.base_since)
    where = f"{base.title}, own edition of {own.start}"
    changed = {change.key: _row(base, change, where) for change in own.changes}
    rows = Rows({**base.rows, **changed}, where)
    rules, chosen = _interpass(base, own.interpass, where)
    return checked(
        replace(
            base,
            start=own.start,
            settings=settings_from(rows),
            rows=rows,
            interpass=chosen,
            interpass_rules=rules,
            own_edition=own.id,
        )
    )


def shipped_edition(procedure_id: str, since: date) -> Procedure:
    """The shipped edition that started on a day; raises NoProcedure when it is not on file."""
    for edition in all_editions().get(procedure_id, ()):
        if edition.start == since:
            return edition
    raise NoProcedure(f"There is no edition of {procedure_id} that starts on {since} on file.")


def _row(base: Procedure, change: Change, where: str) -> Row:
    if change.key not in base.rows:
        raise RowRefusal(f"{where}: {change.key} is not a setting; respell or remove.")
    if change.key in NOT_THE_RAILWAYS:
        raise RowRefusal(f"{where}, {change.key}: a published least time is not the railway's own.")
    if not change.reason.strip():
        raise RowRefusal(f"{where}, {change.key}: say why the railway sets it otherwise.")
    before = base.rows[change.key]
    return replace(
        before, value=change.value, mark=Mark.RAILWAY, source="", clause="", note=change.reason
    )


def _interpass(
    base: Procedure, wanted: str | InterpassRule, where: str
) -> tuple[tuple[InterpassRule, ...], InterpassRule]:
    """The rules side by side, and the one that is kept to."""
    if isinstance(wanted, InterpassRule):
        if not wanted.note.strip():
            raise RowRefusal(f"{where}, interpass {wanted.key}: say why the railway sets its own.")
        return (*base.interpass_rules, wanted), wanted
    for rule in base.interpass_rules:
        if rule.key == wanted:
            return base.interpass_rules, rule
    raise RowRefusal(f"{where}: interpass_rule {wanted} is not listed.")
