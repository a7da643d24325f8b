"""What this app tells the component's file: limits where it stands, passes of its welds."""

from datetime import date
from decimal import Decimal

import pytest

from repairs.models import JobSheet
from repairs.services.field_records import sign_record
from repairs.services.wear_limits import NO_CLASS, TOGETHER
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.analysis.terms import Quantity
from turnouts.models import Component, Turnout
from turnouts.wear_limits import WearLimit, wear_limits
from turnouts.weld_records import weld_passes

pytestmark = pytest.mark.django_db

TODAY = date(2026, 11, 25)


def limit_of(quantity: Quantity, spot: Turnout) -> WearLimit:
    frog = railway.component()
    railway.install(frog, spot)
    place = Turnout.objects.with_place().get(pk=spot.pk)
    (found,) = [x for x in wear_limits([(frog, place)], TODAY)[frog.pk] if x.quantity is quantity]
    return found


@pytest.mark.parametrize(("of_class", "mm"), [(1, "1374.775"), (3, "1381.125"), (5, "1384.3")])
def test_the_guard_check_gage_goes_by_the_class_of_track(of_class: int, mm: str) -> None:
    """54 1/8, 54 3/8 and 54 1/2 in: 49 CFR 213.143."""
    spot = railway.turnout()
    railway.track_class(spot.track, of_class)
    found = limit_of(Quantity.GUARD_CHECK_GAGE, spot)
    assert (found.mm, found.least) == (Decimal(mm), True)


def test_without_a_class_the_strictest_is_taken_and_that_is_said() -> None:
    found = limit_of(Quantity.GUARD_CHECK_GAGE, railway.turnout())
    assert found.mm == Decimal("1384.3")
    assert found.unsettled == NO_CLASS


def test_depth_of_the_point_says_that_it_counts_with_its_length() -> None:
    """5/8 in down and 6 in back: 49 CFR 213.137(b)."""
    found = limit_of(Quantity.POINT_WEAR_DEPTH, railway.turnout())
    assert (found.mm, found.least, found.unsettled) == (Decimal("15.875"), False, TOGETHER)


def test_nothing_is_asked_of_nothing() -> None:
    assert wear_limits([], TODAY) == {}


def _defects(sheet: JobSheet) -> list[int]:
    return list(sheet.job.treats.values_list("defect_id", flat=True))


def test_the_hottest_pass_of_a_signed_record_is_told_with_its_limit() -> None:
    sheet = rows.sheet()
    night, welder = Night(sheet), sheet.people.get()
    night.whole()  # every pass at 90 degC
    assert night.send(welder).refused == []
    assert weld_passes(_defects(sheet)) == {}  # not signed yet
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    (passes,) = weld_passes(_defects(sheet)).values()
    assert (passes.sheet, passes.hottest_degc) == (sheet.number, 90)
    assert passes.limit_degc == night.facts.interpass_degc
    assert passes.limit_degc is not None
    assert passes.procedure == sheet.content["procedure"]["title"]


def test_a_component_nobody_welded_has_no_passes() -> None:
    found = railway.spalled_frog()
    assert weld_passes([found.pk]) == {}
    assert Component.objects.count() == 1
