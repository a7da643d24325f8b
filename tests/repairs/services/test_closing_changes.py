"""A correction after the signature that turns the outcome: proposed, and answered by another."""

from typing import Any

import pytest
from django.core import mail
from django.db import DatabaseError, transaction

from repairs.models import ClosingChange, ClosingNotice, JobSheet, RepairJob, TrackRestriction
from repairs.services.closing_changes import approve_closing_change, reject_closing_change
from repairs.services.field_effects import confirm_restriction
from repairs.services.field_records import correct_record, sign_record
from repairs.services.field_watch import watch_jobs
from repairs.services.jobs import make_jobs
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import Night
from turnouts.access import Forbidden
from turnouts.analysis.terms import Role
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet() -> JobSheet:
    return rows.sheet()


@pytest.fixture
def welder(sheet: JobSheet) -> Person:
    return sheet.people.get()


@pytest.fixture
def supervisor(sheet: JobSheet) -> Person:
    return railway.person("supervisor", sheet.job.turnout.territory, email="shift@example.org")


def signed(sheet: JobSheet, welder: Person, **reading: str) -> Night:
    """A whole night, signed; ``reading`` overrides final readings in mm."""
    night = Night(sheet)
    night.whole()
    for tap in night.taps:
        if tap["kind"] == "measurement" and tap["data"]["quantity"] in reading:
            tap["data"]["value_mm"] = reading[tap["data"]["quantity"]]
    assert night.send(welder).refused == []
    sign_record(by=welder, sheet=sheet, statement="", at=night.at(601))
    return night


def corrected(night: Night, by: Person, quantity: str, mm: str, minute: float = 700) -> None:
    """The final reading of a quantity put right after the signature, and that signed."""
    tap = next(t for t in night.taps if t["data"].get("quantity") == quantity)
    data: dict[str, Any] = {"quantity": quantity, "value_mm": mm}
    night.tap("correction", minute, of=tap["id"], reason="Read again", data=data)
    assert night.send(by, minute + 1).refused == []
    correct_record(by=by, sheet=night.sheet, statement=f"{mm} mm", at=night.at(minute + 2))


GAGE = "guard_check_gage"
GOOD, BAD = "1388", "1370"
"""On both sides of the least guard check gage of class 3, 4 ft 6 3/8 in or 1381.125 mm
(49 CFR 213.143)."""


def state_of(sheet: JobSheet) -> tuple[str, str]:
    """Of the job and of its one defect."""
    job = RepairJob.objects.get(pk=sheet.job_id)
    return job.state, job.treats.get().defect.state


def test_a_good_repair_that_turns_out_failed_is_taken_back_only_when_a_second_person_agrees(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = signed(sheet, welder)
    assert state_of(sheet) == ("done", "proved")
    corrected(night, welder, GAGE, BAD)
    assert state_of(sheet) == ("done", "proved")  # nothing by itself
    change = ClosingChange.objects.get()
    assert (change.state, set(change.stood.values()), set(change.should_be.values())) == (
        "proposed",
        {"proved"},
        {"left"},
    )
    assert "stands as repaired and proved; by the corrected record it is not repaired" in (
        change.reason
    )
    restriction = TrackRestriction.objects.get()
    assert (restriction.speed_kmh, restriction.confirmed_at) == (None, None)
    with pytest.raises(Forbidden, match="second qualified person"):
        approve_closing_change(by=_also_supervisor(welder, sheet), change=change, at=night.at(710))
    done = approve_closing_change(by=supervisor, change=change, at=night.at(711))
    assert state_of(sheet) == ("broken_off", "triaged")
    rest = RepairJob.objects.get(follows=sheet.job)
    assert rest.state == "estimated"
    assert f"What is left is job {rest.reference}." in done.done
    steps = [step.state for step in sheet.job.treats.get().defect.steps.order_by("pk")]
    assert steps[-4:] == ["repaired", "proved", "in_work", "triaged"]
    with pytest.raises(Conflict, match="answered meanwhile"):
        approve_closing_change(by=supervisor, change=change, at=night.at(712))


def _also_supervisor(person: Person, sheet: JobSheet) -> Person:
    railway.grant(person, Role.SUPERVISOR, sheet.job.turnout.territory)
    return Person.objects.get(pk=person.pk)


def test_a_failed_repair_that_turns_out_good_is_closed_only_when_a_second_person_agrees(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = signed(sheet, welder, **{GAGE: BAD})
    assert state_of(sheet) == ("broken_off", "triaged")
    rest = RepairJob.objects.get(follows=sheet.job)
    corrected(night, welder, GAGE, GOOD)
    assert state_of(sheet) == ("broken_off", "triaged")
    change = ClosingChange.objects.get()
    approve_closing_change(by=supervisor, change=change, at=night.at(710), note="Seen")
    assert state_of(sheet) == ("done", "proved")
    rest.refresh_from_db()
    assert rest.state == "cancelled"
    # The restriction of the night stands until its own word is given.
    assert TrackRestriction.objects.get().confirmed_at is None


def test_a_rejection_takes_words_and_leaves_all_as_it_stands(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = signed(sheet, welder)
    corrected(night, welder, GAGE, BAD)
    change = ClosingChange.objects.get()
    with pytest.raises(Refused, match="Say in words"):
        reject_closing_change(by=supervisor, change=change, note=" ", at=night.at(710))
    reject_closing_change(by=supervisor, change=change, note="Gauge was bent", at=night.at(710))
    assert state_of(sheet) == ("done", "proved")
    # A later correction by which the closing is right asks for nothing.
    corrected(night, welder, GAGE, GOOD, minute=720)
    assert ClosingChange.objects.count() == 1


def test_a_later_correction_overtakes_what_still_waits(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = signed(sheet, welder)
    corrected(night, welder, GAGE, BAD)
    first = ClosingChange.objects.get()
    corrected(night, welder, GAGE, GOOD, minute=720)
    first.refresh_from_db()
    assert first.state == "overtaken"
    assert not ClosingChange.objects.filter(state="proposed").exists()
    with pytest.raises(Conflict, match="overtaken by a later correction"):
        approve_closing_change(by=supervisor, change=first, at=night.at(730))


def test_there_and_back_again_each_answered_ends_where_it_began(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = signed(sheet, welder)
    for mm, minute, ends in (
        (BAD, 700, ("broken_off", "triaged")),
        (GOOD, 720, ("done", "proved")),
        (BAD, 740, ("broken_off", "triaged")),
    ):
        corrected(night, welder, GAGE, mm, minute)
        change = ClosingChange.objects.get(state="proposed")
        approve_closing_change(by=supervisor, change=change, at=night.at(minute + 5))
        assert state_of(sheet) == ends
    states = RepairJob.objects.filter(follows=sheet.job).order_by("pk")
    assert [rest.state for rest in states] == ["cancelled", "estimated"]


def test_a_correction_that_turns_nothing_asks_for_nothing(sheet: JobSheet, welder: Person) -> None:
    night = signed(sheet, welder)
    corrected(night, welder, GAGE, "1389")
    assert not ClosingChange.objects.exists()
    assert not TrackRestriction.objects.exists()


def test_what_a_sheet_is_out_for_cannot_be_called_good(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = signed(sheet, welder, **{GAGE: BAD})
    rest = RepairJob.objects.get(follows=sheet.job)
    rows.sheet(rest, people=[welder], by=supervisor)
    corrected(night, welder, GAGE, GOOD)
    with pytest.raises(Conflict, match="Withdraw its sheet first"):
        approve_closing_change(by=supervisor, change=ClosingChange.objects.get(), at=night.at(710))
    assert state_of(sheet)[0] == "broken_off"


def test_a_word_given_before_is_asked_for_again_when_the_repair_turns_out_failed(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = signed(sheet, welder, **{GAGE: BAD})
    restriction = TrackRestriction.objects.get()
    corrected(night, welder, GAGE, GOOD)
    confirm_restriction(
        by=supervisor, restriction=restriction, speed_kmh=None, note="", at=night.at(705)
    )
    change = ClosingChange.objects.get()
    approve_closing_change(by=supervisor, change=change, at=night.at(706))
    corrected(night, welder, GAGE, BAD, minute=720)
    latest = sheet.restrictions.first()
    assert latest is not None
    assert (sheet.restrictions.count(), latest.confirmed_at) == (2, None)
    assert latest.reason.startswith(f"By a correction signed by {welder}")


def test_the_supervisors_are_told_once(
    sheet: JobSheet, welder: Person, supervisor: Person, django_capture_on_commit_callbacks: Any
) -> None:
    night = signed(sheet, welder)
    corrected(night, welder, GAGE, BAD)
    notice = ClosingNotice.objects.get()
    assert notice.person == supervisor
    assert [watch_jobs(at=night.at(703)), watch_jobs(at=night.at(705))] == [1, 0]
    assert "until a second, qualified person answers" in mail.outbox[-1].body


def test_the_next_making_of_jobs_leaves_the_job_of_the_rest_as_it_is(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = signed(sheet, welder)
    corrected(night, welder, GAGE, BAD)
    approve_closing_change(by=supervisor, change=ClosingChange.objects.get(), at=night.at(710))
    rest = RepairJob.objects.get(follows=sheet.job)
    made = make_jobs(by=supervisor, on=rows.DAY, at=night.at(720), progress=rows.quiet)
    assert (made.made, made.refused) == (0, [])
    rest.refresh_from_db()
    assert rest.state == "estimated"


def test_the_database_keeps_a_proposal_as_it_was_made_and_its_answer(
    sheet: JobSheet, welder: Person, supervisor: Person
) -> None:
    night = signed(sheet, welder)
    corrected(night, welder, GAGE, BAD)
    held = ClosingChange.objects.all()
    with pytest.raises(DatabaseError), transaction.atomic():
        held.update(should_be={})
    with pytest.raises(DatabaseError), transaction.atomic():
        held.update(state="approved", answered_by=welder, answered_at=night.at(710))
    reject_closing_change(by=supervisor, change=held.get(), note="No", at=night.at(710))
    with pytest.raises(DatabaseError), transaction.atomic():
        held.update(answer_note="Yes")
    with pytest.raises(DatabaseError), transaction.atomic():
        held.delete()
