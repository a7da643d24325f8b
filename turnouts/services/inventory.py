"""Changes of the inventory: what stands where, and the turnout's own record.

Each change of a component carries the version the person had before them, so that two people who
move one frog at once cannot both succeed. What the database refuses becomes a sentence.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields
from datetime import date
from decimal import Decimal

from django.db import IntegrityError, transaction

from turnouts.access import Action, require
from turnouts.analysis import geometry, linear
from turnouts.analysis.sections import sections
from turnouts.analysis.terms import POSITION_HOLDS, ComponentKind, Hand, Position
from turnouts.analysis.whereabouts import refused_place
from turnouts.models import Component, Installation, Person, ShopVisit, Turnout
from turnouts.services.errors import Conflict, Refused, check_version
from turnouts.services.tonnage import during_mgt, total_at_last_removal


@transaction.atomic
def install_component(
    *,
    by: Person,
    component: Component,
    turnout: Turnout,
    position: Position,
    installed_on: date,
    today: date,
    expected_version: int,
) -> Installation:
    """Put a component into a position, with its running tonnage (MGT) on that day."""
    require(by, Action.EDIT_INVENTORY, turnout.territory)
    row = _locked(component, expected_version)
    _check_fits(row, position)
    _check_day(installed_on, today)
    _check_free(row, installed_on)
    with _said_by_the_database(row, turnout, position):
        return Installation.objects.create(
            component=row,
            turnout=turnout,
            position=position.value,
            installed_on=installed_on,
            mgt_at_installation=total_at_last_removal(row),
        )


@transaction.atomic
def remove_component(
    *,
    by: Person,
    component: Component,
    removed_on: date,
    reason: str,
    today: date,
    expected_version: int,
) -> Installation:
    """Take a component out of track; what passed over it until then (MGT) is kept."""
    row = _locked(component, expected_version)
    stay = row.installations.filter(removed_on__isnull=True).first()
    if stay is None:
        raise Conflict(f"Component {row.serial} stands in no turnout, so it cannot be taken out.")
    require(by, Action.EDIT_INVENTORY, stay.turnout.territory)
    _check_day(removed_on, today)
    if removed_on <= stay.installed_on:
        raise Refused(
            f"Component {row.serial} was put in on {stay.installed_on}; it cannot have come out "
            f"on {removed_on}. Give a later day."
        )
    stay.removed_on = removed_on
    stay.reason_removed = reason
    stay.mgt_at_removal = stay.mgt_at_installation + during_mgt(stay, removed_on)
    stay.save(update_fields=["removed_on", "reason_removed", "mgt_at_removal"])
    return stay


@transaction.atomic
def send_to_shop(
    *,
    by: Person,
    component: Component,
    shop: str,
    arrived_on: date,
    work: str,
    today: date,
    expected_version: int,
) -> ShopVisit:
    """Note that a component which is out of track has gone to the shop."""
    row = _locked(component, expected_version)
    _require_for(by, row)
    _check_day(arrived_on, today)
    _check_free(row, arrived_on)
    return ShopVisit.objects.create(component=row, shop=shop, arrived_on=arrived_on, work=work)


@transaction.atomic
def return_from_shop(
    *,
    by: Person,
    component: Component,
    left_on: date,
    work: str,
    today: date,
    expected_version: int,
) -> ShopVisit:
    """Note that a component left the shop, with the work that was done there."""
    row = _locked(component, expected_version)
    _require_for(by, row)
    _check_day(left_on, today)
    visit = row.shop_visits.filter(left_on__isnull=True).first()
    if visit is None:
        raise Conflict(f"Component {row.serial} is not in a shop.")
    if left_on < visit.arrived_on:
        raise Refused(f"It arrived on {visit.arrived_on}; it cannot have left on {left_on}.")
    visit.left_on, visit.work = left_on, work
    visit.save(update_fields=["left_on", "work"])
    return visit


@dataclass(frozen=True)
class TurnoutFacts:
    """What an engineer may correct on a turnout. Speeds in km/h, milepost in the line's unit,
    coordinates in degrees of WGS 84."""

    milepost: Decimal
    hand: Hand
    frog_number: Decimal
    rail_section: str
    faces: str
    speed_through_kmh: Decimal
    speed_diverging_kmh: Decimal
    access: str
    latitude: Decimal | None
    longitude: Decimal | None


def facts_of(turnout: Turnout) -> TurnoutFacts:
    """The turnout's present facts, to change some of them with ``dataclasses.replace``."""
    values = {field.name: getattr(turnout, field.name) for field in fields(TurnoutFacts)}
    return TurnoutFacts(**values | {"hand": Hand(turnout.hand)})


@transaction.atomic
def update_turnout(
    *, by: Person, turnout: Turnout, facts: TurnoutFacts, expected_version: int
) -> Turnout:
    """Keep the facts; the distance along the line follows from the milepost."""
    row = Turnout.objects.select_for_update(of=("self",)).with_place().get(pk=turnout.pk)
    require(by, Action.EDIT_INVENTORY, row.territory)
    check_version(f"Turnout {row.code}", row.version, expected_version)
    _check_facts(facts, row)
    if facts.milepost != row.milepost:
        row.chainage_m = _chainage_m(row, facts.milepost)
    for field in fields(TurnoutFacts):
        setattr(row, field.name, getattr(facts, field.name))
    row.hand = facts.hand.value
    row.version += 1
    row.save()
    return row


def _check_facts(facts: TurnoutFacts, before: Turnout) -> None:
    try:
        geometry.frog_angle(facts.frog_number)
    except ValueError as fault:
        raise Refused(str(fault)) from None
    if facts.rail_section != before.rail_section and facts.rail_section not in sections():
        known = ", ".join(sections())
        raise Refused(f"Rail section {facts.rail_section} is not in the table. Known: {known}.")
    if facts.speed_through_kmh <= 0 or facts.speed_diverging_kmh <= 0:
        raise Refused("A speed must be more than zero; a turnout out of use is not changed here.")
    if facts.faces not in dict(Turnout.FACING):
        raise Refused("A turnout faces trains towards increasing or decreasing mileposts.")
    off_the_earth = refused_place(facts.latitude, facts.longitude)
    if off_the_earth:
        raise Refused(off_the_earth)


def _chainage_m(turnout: Turnout, milepost: Decimal) -> Decimal:
    line = turnout.track.line
    posts = [linear.Post(post.reading, post.chainage_m) for post in line.mileposts.all()]
    try:
        return linear.Mileposts(tuple(posts), line.milepost_unit).chainage_m(milepost)
    except linear.MilepostError as fault:
        raise Refused(str(fault)) from None


def _locked(component: Component, expected_version: int) -> Component:
    """The component, held until the transaction ends, one version on."""
    row = Component.objects.select_for_update().get(pk=component.pk)
    check_version(f"Component {row.serial}", row.version, expected_version)
    row.version += 1
    row.save(update_fields=["version"])
    return row


def _require_for(by: Person, component: Component) -> None:
    """The right where the component stood last; a new one may be handled by any who has it."""
    last = component.installations.order_by("-installed_on").first()
    require(by, Action.EDIT_INVENTORY, last.turnout.territory if last else None)


def _check_fits(component: Component, position: Position) -> None:
    takes = POSITION_HOLDS[position]
    if ComponentKind(component.kind) is not takes:
        kind = ComponentKind(component.kind).label.lower()
        raise Refused(
            f"Component {component.serial} is a {kind}; the position "
            f"{position.label.lower()} takes a {takes.label.lower()}."
        )


def _check_day(day: date, today: date) -> None:
    if day > today:
        raise Refused(f"{day} lies in the future; what is planned is not yet inventory.")


def _check_free(component: Component, day: date) -> None:
    """Refuse while the component stands somewhere or is in a shop, or was so on that day."""
    stay = component.installations.order_by("-installed_on").first()
    if stay and (stay.removed_on is None or stay.removed_on > day):
        until = f"until {stay.removed_on}" if stay.removed_on else "since then"
        raise Conflict(
            f"Component {component.serial} was put in at {stay.turnout} on {stay.installed_on} "
            f"and stands there {until}. Take it out first, or give a later day."
        )
    visit = component.shop_visits.order_by("-arrived_on").first()
    if visit and (visit.left_on is None or visit.left_on > day):
        until = f"until {visit.left_on}" if visit.left_on else "since then"
        raise Conflict(
            f"Component {component.serial} went to {visit.shop} on {visit.arrived_on} and is "
            f"there {until}. Note its return first, or give a later day."
        )


@contextmanager
def _said_by_the_database(
    component: Component, turnout: Turnout, position: Position
) -> Iterator[None]:
    """The database's own refusal of two components in one place, as a sentence."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as fault:
        if "one_component_in_a_position_at_a_time" in str(fault):
            raise Conflict(
                f"Another component stands in {turnout.code}, {position.label.lower()}, on that "
                "day. Take it out first, or give a later day."
            ) from None
        if "for_a_component_at_a_time" in str(fault) or "one_installation" in str(fault):
            raise Conflict(
                f"Component {component.serial} is noted in another place on that day."
            ) from None
        raise
