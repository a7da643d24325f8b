"""Who may do what, and where. Pages, API, imports and tasks all ask here and nowhere else.

Reading goes through :func:`visible`, so a row of another territory does not exist for a reader.
Writing goes through :func:`require`, which services call before they touch anything.
"""

from enum import StrEnum
from typing import Any, TypeVar

from django.core.exceptions import PermissionDenied
from django.db.models import Model, Q, QuerySet

from turnouts.analysis.terms import Role
from turnouts.models import Component, Person, ShopVisit, Territory

M = TypeVar("M", bound=Model)


class Action(StrEnum):
    """What a role may be allowed to do; the value finishes the sentence 'You may not ...'."""

    SEE = "see this"
    REPORT = "report inspections and defects"
    EDIT_INVENTORY = "change the inventory"
    IMPORT = "import files"
    TRIAGE = "run the triage"
    CONFIRM = "confirm a decision"
    OVERRULE = "overrule a decision"
    CHOOSE_RENEWAL = "decide whether to weld again or replace"
    EDIT_RULES = "change the railway's own rules"
    EDIT_PROCEDURES = "change the railway's own welding procedures"
    ESTIMATE = "make repair estimates"
    PLAN = "plan the week"
    PUBLISH = "publish a plan"
    SEE_SHEETS = "see job sheets"
    RECORD = "record work at the trackside"
    SIGN = "sign a record of work"
    LET_START = "let somebody start a job without a certificate"
    SEE_CERTIFICATES = "see other people's certificates"
    CERTIFY = "keep certificates"
    GRANT = "change people and roles"


ALLOWED: dict[Action, frozenset[Role]] = {
    Action.SEE: frozenset(Role),
    Action.REPORT: frozenset({Role.INSPECTOR, Role.SUPERVISOR, Role.ENGINEER}),
    Action.EDIT_INVENTORY: frozenset({Role.ENGINEER, Role.ADMINISTRATOR}),
    Action.IMPORT: frozenset({Role.INSPECTOR, Role.SUPERVISOR, Role.ENGINEER, Role.ADMINISTRATOR}),
    Action.TRIAGE: frozenset({Role.INSPECTOR, Role.SUPERVISOR, Role.ENGINEER}),
    Action.CONFIRM: frozenset({Role.SUPERVISOR, Role.ENGINEER}),
    Action.OVERRULE: frozenset({Role.ENGINEER}),
    Action.CHOOSE_RENEWAL: frozenset({Role.ENGINEER}),
    Action.EDIT_RULES: frozenset({Role.ENGINEER}),
    Action.EDIT_PROCEDURES: frozenset({Role.ENGINEER}),
    Action.ESTIMATE: frozenset({Role.SUPERVISOR, Role.ENGINEER}),
    Action.PLAN: frozenset({Role.SUPERVISOR}),
    Action.PUBLISH: frozenset({Role.SUPERVISOR}),
    Action.SEE_SHEETS: frozenset({Role.WELDER, Role.SUPERVISOR, Role.ENGINEER}),
    Action.RECORD: frozenset({Role.WELDER, Role.SUPERVISOR}),
    Action.SIGN: frozenset({Role.WELDER, Role.SUPERVISOR, Role.ENGINEER}),
    Action.LET_START: frozenset({Role.SUPERVISOR}),
    Action.SEE_CERTIFICATES: frozenset({Role.SUPERVISOR, Role.ENGINEER, Role.ADMINISTRATOR}),
    # Not the supervisor, who plans with these people and may let one start in an emergency.
    Action.CERTIFY: frozenset({Role.ADMINISTRATOR}),
    Action.GRANT: frozenset({Role.ADMINISTRATOR}),
}


class Forbidden(PermissionDenied):
    """The answer 403, with a sentence that says what was refused and who may do it."""


def grants_of(person: Person) -> list[tuple[Role, int | None]]:
    """Role and territory id (None: all) of each grant, read once for each loaded person."""
    cached: list[tuple[Role, int | None]] | None = getattr(person, "_grants_read", None)
    if cached is None:
        rows = person.grants.values_list("role", "territory_id") if person.is_active else []
        cached = [(Role(role), territory) for role, territory in rows]
        person._grants_read = cached  # type: ignore[attr-defined]
    return cached


def roles_of(person: Person) -> set[Role]:
    return {role for role, _ in grants_of(person)}


def territory_ids(person: Person, action: Action) -> set[int] | None:
    """Territories where ``person`` may do ``action``; None means every one of them."""
    found = {territory for role, territory in grants_of(person) if role in ALLOWED[action]}
    return None if None in found else {t for t in found if t is not None}


def may(person: Person, action: Action, territory: Territory | None = None) -> bool:
    """Whether ``person`` may do ``action`` in ``territory``, or anywhere at all when it is None."""
    where = territory_ids(person, action)
    if where is None:
        return True
    return bool(where) if territory is None else territory.pk in where


def require(person: Person, action: Action, territory: Territory | None = None) -> None:
    """Raise :class:`Forbidden` unless ``person`` may do ``action`` there."""
    if may(person, action, territory):
        return
    place = f" in {territory.name}" if territory else ""
    who = ", ".join(sorted(role.label.lower() for role in ALLOWED[action]))
    raise Forbidden(f"You may not {action.value}{place}. It takes one of these roles: {who}.")


def acting_role(person: Person, action: Action, territory: Territory) -> Role:
    """The role in which ``person`` does ``action`` there, for the record of who signed as what."""
    require(person, action, territory)
    return next(
        role
        for role, where in grants_of(person)
        if role in ALLOWED[action] and where in (None, territory.pk)
    )


def visible(person: Person, rows: QuerySet[M], action: Action = Action.SEE) -> QuerySet[M]:
    """``rows`` without those of territories where ``person`` may not do ``action``."""
    where = territory_ids(person, action)
    if where is None:
        return rows
    return rows.filter(_in_territories(rows.model, where)) if where else rows.none()


def _in_territories(model: type[Model], where: set[int]) -> Q:
    path: Any = getattr(model, "territory_path", None)
    if model is Territory:
        return Q(pk__in=where)
    if path is None:
        raise LookupError(f"{model.__name__} does not say which territory its rows lie in.")
    inside = Q(**{f"{path}__in": where})
    if model not in (Component, ShopVisit):
        return inside
    # Through a subquery, because a component may have stood in several turnouts and is one row.
    stood = Q(pk__in=model._default_manager.filter(inside).values("pk"))
    if model is ShopVisit:
        return stood
    # One that never stood anywhere belongs to whoever may see components at all.
    never = Component.objects.filter(installations__isnull=True).values("pk")
    return stood | Q(pk__in=never)
