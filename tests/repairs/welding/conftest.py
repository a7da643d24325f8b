"""The job most tests work on: a self-guarded frog with a worn point and guard face."""

from datetime import date

import pytest

from repairs.welding.procedures import Procedure, procedure_in_force
from repairs.welding.work import Conditions, RepairWork, ZoneWork
from turnouts.analysis.terms import ComponentKind, FrogDesign, Steel, Zone

ON = date(2026, 11, 2)


@pytest.fixture(scope="session")
def wire() -> Procedure:
    return procedure_in_force("manganese-wire", ON)


@pytest.fixture(scope="session")
def stick() -> Procedure:
    return procedure_in_force("manganese-stick", ON)


@pytest.fixture(scope="session")
def rail_wire() -> Procedure:
    return procedure_in_force("carbon-wire", ON)


@pytest.fixture(scope="session")
def mild() -> Conditions:
    return Conditions(air_degc=15, rail_degc=15)


@pytest.fixture(scope="session")
def frog_work() -> RepairWork:
    return RepairWork(
        ComponentKind.FROG,
        FrogDesign.SELF_GUARDED_MANGANESE,
        Steel.MANGANESE,
        (ZoneWork(Zone.POINT, 300, 40, 16, 10), ZoneWork(Zone.GUARD_FACE, 400, 30, 8)),
    )


@pytest.fixture(scope="session")
def point_work() -> RepairWork:
    return RepairWork(
        ComponentKind.SWITCH_POINT, None, Steel.CARBON, (ZoneWork(Zone.HEAD, 200, 20, 6, 4),)
    )
