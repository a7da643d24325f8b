"""Rows of an invented railway for tests: each builder makes what it needs and nothing more.

spot = railway.turnout()                      # with its territory, line and track
frog = railway.component()                    # a rail-bound manganese frog
railway.install(frog, spot)                   # at the frog, since 2020
inspector = railway.person("inspector", spot.territory)
"""

from datetime import UTC, date, datetime
from decimal import Decimal
from itertools import count
from typing import Any

from turnouts.analysis.terms import (
    ComponentKind,
    DefectKind,
    FrogDesign,
    Hand,
    Position,
    Quantity,
    Role,
    Route,
    Steel,
    Zone,
)
from turnouts.models import (
    Component,
    Defect,
    DefectStep,
    Inspection,
    Installation,
    Instrument,
    Line,
    Measurement,
    Milepost,
    Person,
    RoleGrant,
    Territory,
    Track,
    TrackClass,
    Traffic,
    Turnout,
)

_number = count(1)

SINCE = date(2020, 1, 1)
VISIT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
MILE_M = Decimal("1609.344")


def _new(letters: str) -> str:
    return f"{letters}{next(_number):03}"


def territory(code: str = "") -> Territory:
    code = code or _new("T")
    return Territory.objects.create(code=code, name=f"Territory {code}")


def line(of: Territory | None = None, code: str = "", miles: int = 20) -> Line:
    """A line with a milepost each mile."""
    code = code or _new("L")
    row = Line.objects.create(
        territory=of or territory(), code=code, name=f"Line {code}", milepost_unit="mi"
    )
    Milepost.objects.bulk_create(
        Milepost(line=row, reading=mile, chainage_m=mile * MILE_M) for mile in range(miles + 1)
    )
    return row


def track(on: Line | None = None, name: str = "Main", kind: str = "main") -> Track:
    return Track.objects.create(line=on or line(), name=name, kind=kind)


def track_class(on: Track, of_class: int, since: date = SINCE, **values: Any) -> TrackClass:
    """The class of the whole track since a day."""
    given = {"from_m": 0, "to_m": 20 * MILE_M} | values
    return TrackClass.objects.create(track=on, track_class=of_class, since=since, **given)


def turnout(on: Track | None = None, code: str = "", mile: str = "5", **values: Any) -> Turnout:
    """A No. 10 right-hand turnout with 10 MGT a year through and 2 diverging, since 2020."""
    given = {
        "hand": Hand.RIGHT.value,
        "frog_number": Decimal(10),
        "rail_section": "136RE",
        "faces": "increasing",
        "speed_through_kmh": 40 * Decimal("1.609344"),
        "speed_diverging_kmh": 15 * Decimal("1.609344"),
    }
    row = Turnout.objects.create(
        track=on or track(),
        code=code or _new("S"),
        milepost=Decimal(mile),
        chainage_m=(Decimal(mile) * MILE_M).quantize(Decimal("0.001")),
        **(given | values),
    )
    traffic(row, Route.THROUGH, "10")
    traffic(row, Route.DIVERGING, "2")
    return row


def traffic(over: Turnout, route: Route, annual_mgt: str, since: date = SINCE) -> Traffic:
    return Traffic.objects.create(
        turnout=over, route=route.value, since=since, trains_per_day=8, annual_mgt=annual_mgt
    )


def component(kind: ComponentKind = ComponentKind.FROG, **values: Any) -> Component:
    """A rail-bound manganese frog, or whatever else is asked for."""
    given: dict[str, Any] = {"serial": _new("C")}
    if kind is ComponentKind.FROG:
        given["design"] = FrogDesign.RAIL_BOUND_MANGANESE.value
        given["steel"] = Steel.MANGANESE.value
    return Component.objects.create(kind=kind.value, **(given | values))


def install(
    what: Component,
    at: Turnout,
    position: Position = Position.FROG,
    installed_on: date = SINCE,
    **values: Any,
) -> Installation:
    return Installation.objects.create(
        component=what,
        turnout=at,
        position=position.value,
        installed_on=installed_on,
        **values,
    )


def person(role: str | Role | None = None, at: Territory | None = None, **values: Any) -> Person:
    """Somebody with one role in one territory (None: in all of them), or without any role."""
    given = {"username": _new("person")} | values
    row = Person.objects.create_user(**given)
    if role is not None:
        grant(row, Role(role), at)
    return row


def grant(to: Person, role: Role, at: Territory | None = None) -> RoleGrant:
    return RoleGrant.objects.create(person=to, role=role.value, territory=at)


def instrument(uncertainty_mm: str = "0.2", **values: Any) -> Instrument:
    given = {"code": _new("G"), "name": "Flangeway gauge"} | values
    return Instrument.objects.create(uncertainty_mm=Decimal(uncertainty_mm), **given)


def inspection(at: Turnout, by: Person | None = None, **values: Any) -> Inspection:
    given = {"reference": _new("I"), "inspected_at": VISIT, "kind": "detailed"} | values
    return Inspection.objects.create(turnout=at, inspector=by or person(), **given)


def measurement(
    during: Inspection,
    quantity: Quantity,
    value: str,
    of: Component | None = None,
    **values: Any,
) -> Measurement:
    """A reading in the stored unit (mm, HBW or degC)."""
    given = {"uncertainty": Decimal("0.2"), "typed": value, "typed_unit": "mm"} | values
    return Measurement.objects.create(
        inspection=during, component=of, quantity=quantity.value, value=Decimal(value), **given
    )


def defect(of: Component, during: Inspection, **values: Any) -> Defect:
    """A spall on the tread, reported with the first step of its life."""
    given = {
        "reference": _new("D"),
        "kind": DefectKind.SPALL.value,
        "zone": Zone.TREAD.value,
        "reported_on": during.inspected_at.date(),
    } | values
    row = Defect.objects.create(inspection=during, turnout=during.turnout, component=of, **given)
    DefectStep.objects.create(
        defect=row, state="reported", at=during.inspected_at, by=during.inspector
    )
    return row


def spalled_frog(at: Turnout | None = None, **values: Any) -> Defect:
    """A frog in track with one spall reported on it: the shortest way to a defect."""
    spot = at or turnout()
    frog = component()
    install(frog, spot)
    return defect(frog, inspection(spot), **values)
