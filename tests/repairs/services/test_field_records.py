"""Signing, closing, breaking off, correcting, and showing that something was changed."""

import pgtrigger
import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import DatabaseError, transaction

from repairs.models import FieldEvent, FieldRecord, JobSheet, RepairJob, TrackRestriction
from repairs.services.field_records import correct_record, sign_record
from repairs.services.field_rights import let_start, may_start
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.access import Forbidden
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet() -> JobSheet:
    return rows.sheet()


@pytest.fixture
def welder(sheet: JobSheet) -> Person:
    return sheet.people.get()


def worked(sheet: JobSheet, welder: Person) -> Night:
    night = Night(sheet)
    night.whole()
    assert night.send(welder).refused == []
    return night


def test_a_signed_record_closes_the_job_and_names_who_signed_as_what(
    sheet: JobSheet, welder: Person
) -> None:
    night = worked(sheet, welder)
    record = sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    assert (record.number, record.kind, record.role) == (1, "signed", "welder")
    assert record.qualification.startswith("manganese-wire, issued 2025-03-01")
    assert record.content["closed"]["job_state"] == "done"
    # 12 MGT a year since 2020-01-01 by the invented railway's traffic.
    assert float(record.content["tonnage_mgt"]) > 50
    sheet.job.refresh_from_db()
    assert sheet.job.state == "done"
    assert [row.defect.state for row in sheet.job.treats.all()] == ["proved"]
    assert not TrackRestriction.objects.exists()
    with pytest.raises(Conflict):
        sign_record(by=welder, sheet=sheet, statement="", at=night.at(602))


def test_nothing_is_signed_while_the_track_is_not_handed_back(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    night.send(welder)
    with pytest.raises(Refused, match="not ended"):
        sign_record(by=welder, sheet=sheet, statement="", at=night.at(20))


def test_who_is_not_on_the_sheet_signs_only_as_supervisor_or_engineer(
    sheet: JobSheet, welder: Person
) -> None:
    night = worked(sheet, welder)
    territory = sheet.job.turnout.territory
    other = rows.qualified(railway.person("welder", territory), sheet.job.procedure)
    with pytest.raises(Forbidden):
        sign_record(by=other, sheet=sheet, statement="", at=night.at(601))
    engineer = railway.person("engineer", territory)
    record = sign_record(by=engineer, sheet=sheet, statement="", at=night.at(601))
    assert (record.role, record.qualification) == ("engineer", "No certificate for manganese-wire")


def test_a_job_broken_off_leaves_a_true_state_and_a_new_job_for_the_rest(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    night.tap("broken_off", 60, reason="Rain", state="as_found")
    night.tap("handed_back", 61, state="as_found", qualified_person="Ada Lund")
    night.send(welder)
    record = sign_record(by=welder, sheet=sheet, statement="", at=night.at(90))
    sheet.job.refresh_from_db()
    assert sheet.job.state == "broken_off"
    rest = RepairJob.objects.get(follows=sheet.job)
    assert record.content["closed"]["rest"] == rest.reference
    assert rest.state == "estimated"
    assert rest.estimates.filter(current=True).count() == 1
    defect = rest.treats.get().defect
    assert defect == sheet.job.treats.get().defect
    assert defect.state == "triaged"
    assert not TrackRestriction.objects.exists()


def test_an_open_cavity_called_as_found_is_restricted_all_the_same(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    gouging = next(one for one in night.facts.stages if one.kind == "gouging")
    night.tap("stage_started", 40, stage=gouging.key)
    night.tap("handed_back", 61, state="as_found", qualified_person="Ada Lund")
    night.send(welder)
    restriction = TrackRestriction.objects.get()
    assert restriction.speed_kmh is None
    assert "with a cavity open" in restriction.reason


def test_an_open_cavity_that_nobody_handed_back_is_proposed_closed_when_it_is_signed(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    gouging = next(one for one in night.facts.stages if one.kind == "gouging")
    night.tap("stage_started", 40, stage=gouging.key)
    night.tap("broken_off", 60, reason="Rain", state="open")
    night.send(welder)
    assert not TrackRestriction.objects.exists()
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(90))
    restriction = TrackRestriction.objects.get()
    assert restriction.speed_kmh is None
    assert "Broken off (Rain), and nobody is entered as having handed" in restriction.reason


def test_a_job_broken_off_before_the_first_cut_restricts_nothing(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    night.tap("started", 15)
    night.tap("broken_off", 60, reason="Rain", state="as_found")
    night.send(welder)
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(90))
    assert not TrackRestriction.objects.exists()


def test_a_failed_penetrant_restricts_the_track_and_keeps_the_repair_open(
    sheet: JobSheet, welder: Person
) -> None:
    night = Night(sheet)
    end = night.whole()
    zone = night.facts.zones[0].key
    night.tap("indication", end - 12, zone=zone, shape="linear", length_mm="2")
    night.taps = [tap for tap in night.taps if tap["kind"] != "handed_back"]
    night.tap("handed_back", end, state="closed", qualified_person="Ada Lund", speed_kmh="16")
    night.send(welder)
    restriction = TrackRestriction.objects.get()
    assert restriction.speed_kmh == 16
    assert restriction.confirmed_at is None
    assert "Penetrant failed" in restriction.reason
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    sheet.job.refresh_from_db()
    assert sheet.job.state == "broken_off"
    assert RepairJob.objects.filter(follows=sheet.job).count() == 1


def test_a_correction_stands_beside_what_was_signed(sheet: JobSheet, welder: Person) -> None:
    night = worked(sheet, welder)
    with pytest.raises(Refused, match="sign it first"):
        correct_record(by=welder, sheet=sheet, statement="x", at=night.at(601))
    first = sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    before = first.content
    night.tap("note", 602, text="The second gauge was used.")
    night.send(welder, minute=603)
    with pytest.raises(Refused, match="Say what is corrected"):
        correct_record(by=welder, sheet=sheet, statement=" ", at=night.at(604))
    second = correct_record(by=welder, sheet=sheet, statement="A note came", at=night.at(604))
    first.refresh_from_db()
    assert first.content == before
    assert (second.number, second.kind, second.previous) == (2, "correction", first.sha256)
    assert len(second.content["events"]) == len(before["events"]) + 1


def test_the_database_refuses_to_change_or_delete_what_was_entered_or_signed(
    sheet: JobSheet, welder: Person
) -> None:
    night = worked(sheet, welder)
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    for rows_ in (FieldEvent.objects.all(), FieldRecord.objects.all()):
        for change in (lambda r=rows_: r.update(previous="x"), lambda r=rows_: r.delete()):
            with pytest.raises(DatabaseError), transaction.atomic():
                change()


def test_tampering_past_the_triggers_shows_with_its_place(
    sheet: JobSheet, welder: Person, capsys: pytest.CaptureFixture[str]
) -> None:
    night = worked(sheet, welder)
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    call_command("verify_records")
    assert "1 sheets and 1 records hold together." in capsys.readouterr().out
    with pgtrigger.ignore("repairs.FieldRecord:field_records_stay"), transaction.atomic():
        FieldRecord.objects.update(statement="all was well")
        with pytest.raises(CommandError, match=r"Record 1 of sheet .* is not what"):
            call_command("verify_records")
        FieldRecord.objects.update(statement="")
    call_command("verify_records")
    last = FieldEvent.objects.order_by("-number").first()
    assert last is not None
    with pgtrigger.ignore("repairs.FieldEvent:field_events_stay"), transaction.atomic():
        last.delete()
    with pytest.raises(CommandError, match="are missing"):
        call_command("verify_records")


@pytest.mark.parametrize("change", [{"reason": "All was well"}, {"data": {"text": "Dry"}}])
def test_tampering_with_a_correction_shows_with_its_place(
    sheet: JobSheet, welder: Person, change: dict[str, object]
) -> None:
    night = Night(sheet)
    night.whole()
    wrong = night.tap("note", 500, text="Rain")
    night.tap("correction", 601, of=wrong, reason="Misread", data={"text": "Fog"})
    night.tap("note", 602, text="Left")
    assert night.send(welder).refused == []
    call_command("verify_records")
    row = FieldEvent.objects.get(kind="correction")
    with pgtrigger.ignore("repairs.FieldEvent:field_events_stay"), transaction.atomic():
        FieldEvent.objects.filter(pk=row.pk).update(data=row.data | change)
    with pytest.raises(CommandError, match=f"Entry {row.number} of sheet {sheet.number}"):
        call_command("verify_records")
    with pytest.raises(Conflict, match="do not hold together"):
        sign_record(by=welder, sheet=sheet, statement="", at=night.at(603))


def test_a_supervisors_word_lets_somebody_start_and_is_kept(sheet: JobSheet) -> None:
    territory = sheet.job.turnout.territory
    helper = railway.person("welder", territory)
    sheet.people.add(helper)
    supervisor = railway.person("supervisor", territory)
    day, at = sheet.starts_at.date(), sheet.starts_at
    assert not may_start(helper, sheet, day).yes
    with pytest.raises(Forbidden):
        let_start(by=helper, sheet=sheet, person=helper, reason="I can", at=at)
    with pytest.raises(Refused):
        let_start(by=supervisor, sheet=sheet, person=helper, reason=" ", at=at)
    let_start(by=supervisor, sheet=sheet, person=helper, reason="Broken frog, no other", at=at)
    answer = may_start(helper, sheet, day)
    assert answer.yes
    assert "Broken frog" in answer.sentence


def test_nobody_is_let_start_whose_phone_would_not_open_the_sheet(sheet: JobSheet) -> None:
    territory = sheet.job.turnout.territory
    helper, supervisor = (
        railway.person("welder", territory),
        railway.person("supervisor", territory),
    )
    sheet.people.add(helper)
    helper.grants.all().delete()
    with pytest.raises(Refused, match="has no role in this territory that may record work"):
        let_start(by=supervisor, sheet=sheet, person=helper, reason="No other", at=sheet.starts_at)
    assert not sheet.start_overrides.exists()
