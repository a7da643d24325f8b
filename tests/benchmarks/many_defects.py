"""Many defects at once, for measuring: real rows of an invented railway."""

from datetime import UTC, datetime
from decimal import Decimal
from itertools import cycle

TURNOUTS = 500
READINGS = {
    "flangeway_width": "48",
    "flangeway_depth": "45",
    "guard_check_gage": "1388",
    "guard_face_gage": "1340",
    "point_wear_depth": "3",
    "tread_wear": "3",
}
KINDS = ("spall", "shell", "chip", "crack", "metal_flow", "batter", "wear")
ZONES = ("point", "tread", "left_wing", "throat", "heel")


def make_ground(defects: int):  # type: ignore[no-untyped-def]
    """Turnouts with a frog each, one visit with six readings at each, and the defects found.

    Gives an engineer of all territories.
    """
    from tests import railway
    from turnouts import models

    seen = datetime.now(UTC)
    first = railway.turnout(code="B0")
    railway.track_class(first.track, 3)
    kept = {field.attname for field in models.Turnout._meta.concrete_fields} - {"id"}
    fields = {name: getattr(first, name) for name in kept}
    rest = models.Turnout.objects.bulk_create(
        models.Turnout(**(fields | {"code": f"B{n}"})) for n in range(1, TURNOUTS)
    )
    turnouts = [first, *rest]
    frogs = models.Component.objects.bulk_create(
        models.Component(
            serial=f"BF{n}", kind="frog", design="rail_bound_manganese", steel="manganese"
        )
        for n in range(TURNOUTS)
    )
    models.Installation.objects.bulk_create(
        models.Installation(
            component=frog, turnout=turnout, position="frog", installed_on=railway.SINCE
        )
        for frog, turnout in zip(frogs, turnouts, strict=True)
    )
    person = railway.person("engineer", username="bench")
    visits = models.Inspection.objects.bulk_create(
        models.Inspection(
            turnout=turnout,
            inspector=person,
            reference=f"BI{turnout.code}",
            inspected_at=seen,
            kind="detailed",
        )
        for turnout in turnouts
    )
    models.Measurement.objects.bulk_create(
        models.Measurement(
            inspection=visit,
            component=frog,
            quantity=quantity,
            value=Decimal(mm),
            uncertainty=Decimal("0.2"),
            typed=mm,
            typed_unit="mm",
        )
        for visit, frog in zip(visits, frogs, strict=True)
        for quantity, mm in READINGS.items()
    )
    places = cycle(zip(turnouts, frogs, visits, strict=True))
    models.Defect.objects.bulk_create(
        models.Defect(
            reference=f"BD{n}",
            inspection=visit,
            turnout=turnout,
            component=frog,
            kind=KINDS[n % len(KINDS)],
            zone=ZONES[n % len(ZONES)],
            length_mm=Decimal(40 + n % 120),
            width_mm=Decimal(20),
            depth_mm=Decimal(1 + n % 22),
            breaks_surface=True,
            reaches_edge=False,
            reaches_base=False,
            orientation="longitudinal",
            reported_on=seen.date(),
        )
        for n, (turnout, frog, visit) in zip(range(defects), places)  # noqa: B905
    )
    return person
