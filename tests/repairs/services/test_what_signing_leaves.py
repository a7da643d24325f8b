"""What a signed record leaves: the defect's state, the component's history, the tonnage it had."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from repairs.models import JobSheet
from repairs.services.field_records import correct_record, sign_record
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.analysis.terms import DefectState
from turnouts.lifeline import life_line
from turnouts.models import Defect, Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet() -> JobSheet:
    return rows.sheet()


@pytest.fixture
def welder(sheet: JobSheet) -> Person:
    return sheet.people.get()


def defect_of(sheet: JobSheet) -> Defect:
    return sheet.job.treats.get().defect


def test_the_defect_is_repaired_and_proved_when_the_work_ended_not_when_it_was_signed(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    night.send(welder, 16)
    night.taps.clear()
    end = night.whole()
    night.send(welder, end + 1)
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(end + 3 * 24 * 60))
    defect = defect_of(sheet)
    assert defect.state == DefectState.PROVED.value
    steps = {step.state: step.at for step in defect.steps.all()}
    assert steps["in_work"] == night.at(15)
    assert steps["repaired"] == steps["proved"] == night.at(end)


def test_work_entered_days_later_keeps_the_steps_of_a_defects_life_in_order(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    # A phone whose clock was a day slow at the start and put right by its owner in the night.
    night.tap("started", -24 * 60 * 3)
    night.whole()
    night.send(welder, 5000)
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(5001))
    steps = list(defect_of(sheet).steps.order_by("pk"))
    assert [step.state for step in steps][-3:] == ["in_work", "repaired", "proved"]
    assert [step.at for step in steps] == sorted(step.at for step in steps)


def test_the_life_line_tells_the_repair_its_record_and_a_correction(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    night.whole()
    night.send(welder)
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    correct_record(by=welder, sheet=sheet, statement="Gauge 2", at=night.at(602))
    reader = railway.person("engineer", sheet.job.turnout.territory)
    events = life_line(sheet.job.component, reader)
    repairs = [event.words for event in events if event.kind == "Repair"]
    assert sorted(repairs) == ["Repair begun", "Repair proved", "Repaired"]
    told = [event for event in events if event.kind == "Record"]
    assert [event.words for event in told] == [
        f"Record of {sheet.number} corrected",
        f"Record of {sheet.number} signed",
    ]
    signed = told[1]
    assert signed.href == reverse("job-sheet-record", args=[sheet.number])
    assert f"{welder}, welder; job done; 74.1 MGT had passed over it" in signed.detail
    stranger = life_line(sheet.job.component, railway.person("engineer", railway.territory()))
    assert {event.href for event in stranger if event.kind == "Record"} == {""}


@pytest.mark.parametrize("later", [0, 20, 200])
def test_the_tonnage_at_repair_is_that_of_the_night_of_the_work(
    sheet: JobSheet, welder: Person, later: int
) -> None:
    night = Night(sheet)
    night.whole()
    night.send(welder)
    signed_at = night.at(601) + timedelta(days=later)
    record = sign_record(by=welder, sheet=sheet, statement="", at=signed_at)
    # The invented railway's traffic is 12 MGT a year; the frog lies there since 2020-01-01.
    years = Decimal((date(2026, 3, 6) - railway.SINCE).days) / Decimal("365.25")
    assert Decimal(record.content["tonnage_mgt"]) == pytest.approx(12 * years, abs=Decimal("0.1"))
