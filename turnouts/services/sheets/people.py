"""Sheets of people, their roles and the territories."""

from typing import Any

from django.contrib.auth.hashers import make_password

from turnouts.access import Action
from turnouts.models import Person, RoleGrant, Territory
from turnouts.services.sheets.lookups import PERSON, TERRITORY
from turnouts.services.sheets.spec import Names, Own, Sheet


def _cannot_log_in_yet() -> dict[str, Any]:
    """An imported person has no password until an administrator gives one."""
    return {"password": make_password(None)}


TERRITORIES = Sheet(
    name="territories",
    model=Territory,
    right=Action.GRANT,
    columns=(Own("code", key=True), Own("name")),
)

PEOPLE = Sheet(
    name="people",
    model=Person,
    right=Action.GRANT,
    see=Action.GRANT,
    placed_by=(),
    columns=(
        Own("username", key=True),
        Own("first_name"),
        Own("last_name"),
        Own("email"),
        Own("length_unit"),
        Own("speed_unit"),
        Own("temperature_unit"),
        Own("mass_unit"),
    ),
    new=_cannot_log_in_yet,
)

ROLE_GRANTS = Sheet(
    name="role_grants",
    model=RoleGrant,
    right=Action.GRANT,
    see=Action.GRANT,
    placed_by=("territory",),
    asked=("territory",),  # an empty one gives the role everywhere
    columns=(
        Names("username", PERSON, field="person", key=True),
        Own("role", key=True),
        Names("territory", TERRITORY, key=True),
    ),
)
