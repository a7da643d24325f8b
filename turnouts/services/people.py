"""People and their rights, and the units each reads."""

from dataclasses import dataclass

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from turnouts.access import Action, Forbidden, require, territory_ids
from turnouts.analysis.terms import Role
from turnouts.models import Person, RoleGrant, Territory
from turnouts.services.errors import Conflict, Refused


@dataclass(frozen=True)
class OwnUnits:
    """The units one person reads and types, each a choice of the model."""

    length: str
    speed: str
    temperature: str
    mass: str


def set_units(*, person: Person, units: OwnUnits) -> Person:
    """Keep what this person reads; stored values stay as they are."""
    person.length_unit, person.speed_unit = units.length, units.speed
    person.temperature_unit, person.mass_unit = units.temperature, units.mass
    person.save(update_fields=["length_unit", "speed_unit", "temperature_unit", "mass_unit"])
    return person


@transaction.atomic
def add_person(
    *, by: Person, username: str, first_name: str, last_name: str, email: str, password: str
) -> Person:
    """Somebody who can log in and, until a role is granted, see nothing."""
    require(by, Action.GRANT)
    person = Person(username=username, first_name=first_name, last_name=last_name, email=email)
    return _with_password(person, password)


@transaction.atomic
def add_first_administrator(*, username: str, password: str) -> Person:
    """The one person whom nobody grants anything: an administrator of all territories.

    Raises Refused when there is an administrator already, who should add people then.
    """
    if RoleGrant.objects.filter(role=Role.ADMINISTRATOR.value, person__is_active=True).exists():
        raise Refused("There is an administrator already; they add people on the page People.")
    person = _with_password(Person(username=username), password)
    RoleGrant.objects.create(person=person, role=Role.ADMINISTRATOR.value, territory=None)
    return person


def _with_password(person: Person, password: str) -> Person:
    try:
        person.set_password(password)
        validate_password(password, person)
        person.full_clean()
    except ValidationError as fault:
        raise Refused(" ".join(fault.messages)) from None
    person.save()
    return person


@transaction.atomic
def grant_role(*, by: Person, person: Person, role: Role, territory: Territory | None) -> RoleGrant:
    """Give a role in a territory (None: in all); who grants in one may not grant in others."""
    _require_grant(by, territory)
    try:
        with transaction.atomic():
            return RoleGrant.objects.create(person=person, role=role.value, territory=territory)
    except IntegrityError:
        raise Conflict(f"{person} has that role there already.") from None


@transaction.atomic
def revoke_role(*, by: Person, grant: RoleGrant) -> None:
    """Take a role away; the audit keeps that it was held."""
    _require_grant(by, grant.territory)
    last = Role(grant.role) is Role.ADMINISTRATOR and grant.person_id == by.pk
    if last:
        raise Refused("You cannot take your own administrator's role away; ask another one to.")
    grant.delete()


@transaction.atomic
def set_active(*, by: Person, person: Person, active: bool) -> Person:
    """Let somebody log in or no longer; what they did stays under their name."""
    _require_grant(by, None)
    if person.pk == by.pk:
        raise Refused("You cannot lock yourself out; ask another administrator to.")
    person.is_active = active
    person.save(update_fields=["is_active"])
    return person


def _require_grant(by: Person, territory: Territory | None) -> None:
    if territory is None and territory_ids(by, Action.GRANT) is not None:
        raise Forbidden(
            "You may not change people in all territories. It takes an administrator of them all."
        )
    require(by, Action.GRANT, territory)
