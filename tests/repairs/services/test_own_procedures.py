"""Own editions of a procedure: proposed, looked at, answered by a second engineer, in force."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, transaction

from repairs import tasks
from repairs.models import Estimate, JobSheet, OwnerProcedure, OwnerSetting
from repairs.services.editions import approved_editions, edition_used
from repairs.services.jobs import reestimate_job
from repairs.services.nightly import renew_tonight
from repairs.services.own_procedures import (
    OwnInterpass,
    approve_edition,
    reject_edition,
    withdraw_edition,
)
from repairs.services.procedure_preview import procedure_preview
from repairs.services.renewal import renew_estimates
from repairs.welding.own_editions import Change
from tests import railway
from tests.repairs import rows
from tests.repairs.own_editions import RICHER, approved, looked_at, proposal, proposed
from turnouts.access import Forbidden
from turnouts.models import LongRun, Person
from turnouts.services.errors import Conflict, Refused

pytestmark = pytest.mark.django_db


@pytest.fixture
def engineer() -> Person:
    return railway.person("engineer")


@pytest.fixture
def second() -> Person:
    return railway.person("engineer")


def test_estimates_change_once_a_second_engineer_approved_the_edition(
    engineer: Person, second: Person
) -> None:
    job = rows.job()
    before = rows.estimate_of(job)
    edition = proposed(engineer)
    waiting = reestimate_job(by=engineer, job=job, on=rows.DAY, at=rows.NOW)
    assert waiting.detail["arc_min"] == before.detail["arc_min"]
    approved(edition, second)
    after = reestimate_job(by=engineer, job=job, on=rows.DAY, at=rows.NOW)
    # 4.5 to 5.0 kg/h: the same metal in nine tenths of the arc time.
    assert after.detail["arc_min"] == pytest.approx(before.detail["arc_min"] * 0.9)
    assert (after.procedure_since, after.own_edition) == (rows.DAY, edition)
    assert before.own_edition is None


def test_an_edition_is_in_force_from_its_day_and_not_a_day_earlier(
    engineer: Person, second: Person
) -> None:
    job = rows.job()
    later = rows.DAY + timedelta(days=7)
    approved(proposed(engineer, starts_on=later), second)
    on_the_eve = reestimate_job(by=engineer, job=job, on=later - timedelta(days=1), at=rows.NOW)
    on_the_day = reestimate_job(by=engineer, job=job, on=later, at=rows.NOW)
    assert on_the_eve.own_edition is None
    assert on_the_day.own_edition is not None


def test_an_estimate_can_be_replayed_by_the_edition_it_was_made_by(
    engineer: Person, second: Person
) -> None:
    job = rows.job()
    shipped = rows.estimate_of(job)
    approved(proposed(engineer), second)
    own = reestimate_job(by=engineer, job=job, on=rows.DAY, at=rows.NOW)
    next_day = rows.DAY + timedelta(days=1)
    changes = (Change("over_fill_mm", 4.0, "Ground too low twice"),)
    approved(proposed(engineer, starts_on=next_day, changes=changes), second)
    assert edition_used(shipped).settings.deposit_rate_kg_per_h == 4.5
    assert edition_used(own).settings.deposit_rate_kg_per_h == 5.0
    assert edition_used(own).settings.over_fill_mm == 3.0


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"reason": " "}, "Say in words why the railway"),
        ({"reason": "x" * 301}, "300 letters"),
        ({"procedure": "thermite"}, "There is no procedure thermite"),
        ({"starts_on": rows.DAY - timedelta(days=1)}, "before today"),
        ({"changes": ()}, "in force already"),
        ({"changes": (Change("current_a", 3300.0, "x"),)}, "3300 A is outside 30 to 600"),
        ({"changes": (Change("current_a", 310.0, " "),)}, "say why the railway sets it"),
        ({"changes": (Change("amps", 310.0, "x"),)}, "amps is not a setting"),
        ({"changes": RICHER[:1] * 2}, "given twice"),
        ({"changes": (Change("deposit_rate_kg_per_h", 9.0, "x"),)}, "far from the deposit rate"),
        ({"changes": (Change("peening", "p" * 201, "x"),)}, "200 letters"),
        ({"interpass": "mine"}, "mine is not listed"),
        ({"interpass": OwnInterpass(5, 25, "x")}, "5 degC is outside 40 to 600"),
        ({"interpass": OwnInterpass(200, 25, " ")}, "say why the railway sets its own"),
    ],
)
def test_a_proposal_that_makes_no_sense_is_refused_in_words(
    engineer: Person, values: dict[str, Any], words: str
) -> None:
    with pytest.raises(Refused, match=words):
        proposed(engineer, **values)
    assert not OwnerProcedure.objects.exists()


@pytest.mark.parametrize("role", ["inspector", "welder", "supervisor", "administrator"])
def test_only_an_engineer_proposes(role: str) -> None:
    with pytest.raises(Forbidden):
        proposed(railway.person(role))


def test_it_takes_an_engineer_of_all_territories() -> None:
    with pytest.raises(Forbidden, match="all of them"):
        proposed(railway.person("engineer", railway.territory()))


def test_nobody_answers_their_own_proposal(engineer: Person) -> None:
    edition = proposed(engineer)
    run = looked_at(edition, engineer)
    with pytest.raises(Forbidden, match="second engineer"):
        approve_edition(
            by=engineer, edition=edition, version=1, preview=run, on=rows.DAY, at=rows.NOW
        )
    with pytest.raises(Forbidden, match="second engineer"):
        reject_edition(by=engineer, edition=edition, version=1, note="No", at=rows.NOW)


@pytest.mark.parametrize("state", ["approved", "rejected"])
def test_the_database_itself_refuses_an_answer_by_the_proposer(
    engineer: Person, state: str
) -> None:
    edition = proposed(engineer)
    begins = rows.DAY if state == "approved" else None
    with pytest.raises(IntegrityError, match="second_person"), transaction.atomic():
        OwnerProcedure.objects.filter(pk=edition.pk).update(
            state=state,
            answered_by=engineer,
            answered_at=rows.NOW,
            answer_note="x",
            begins_on=begins,
        )


def test_an_approved_edition_is_never_altered(engineer: Person, second: Person) -> None:
    edition = approved(proposed(engineer), second)
    for change in ({"reason": "Other"}, {"state": "withdrawn"}, {"begins_on": rows.DAY}):
        with pytest.raises(DatabaseError), transaction.atomic():
            OwnerProcedure.objects.filter(pk=edition.pk).update(**change)
    with pytest.raises(DatabaseError), transaction.atomic():
        OwnerSetting.objects.filter(edition=edition).update(value=9.0)
    with pytest.raises(DatabaseError), transaction.atomic():
        OwnerSetting.objects.filter(edition=edition).first().delete()  # type: ignore[union-attr]
    with pytest.raises(DatabaseError, match="is answered"), transaction.atomic():
        OwnerSetting.objects.create(
            edition=edition, key="current_a", value=310, unit="A", reason="Late"
        )
    with pytest.raises(DatabaseError), transaction.atomic():
        edition.delete()


def test_who_answers_on_an_older_version_is_told_so(engineer: Person, second: Person) -> None:
    edition = proposed(engineer)
    with pytest.raises(Conflict, match="changed by somebody else"):
        reject_edition(by=second, edition=edition, version=2, note="No", at=rows.NOW)
    reject_edition(by=second, edition=edition, version=1, note="No", at=rows.NOW)
    with pytest.raises(Conflict, match="rejected already"):
        withdraw_edition(by=engineer, edition=edition, version=2, at=rows.NOW)


def test_who_proposes_over_an_edition_they_have_not_seen_is_told_so(
    engineer: Person, second: Person
) -> None:
    approved(proposed(engineer), second)
    with pytest.raises(Conflict, match="approved while you had it open"):
        proposed(engineer, seen=0, starts_on=rows.DAY + timedelta(days=1))


def test_a_proposal_is_withdrawn_by_its_proposer_only(engineer: Person, second: Person) -> None:
    edition = proposed(engineer)
    with pytest.raises(Forbidden, match="Only the person who proposed"):
        withdraw_edition(by=second, edition=edition, version=1, at=rows.NOW)
    kept = withdraw_edition(by=engineer, edition=edition, version=1, at=rows.NOW, note="Too soon")
    assert (kept.state, kept.version, kept.answer_note) == ("withdrawn", 2, "Too soon")
    assert approved_editions() == ()


def test_a_rejection_needs_words(engineer: Person, second: Person) -> None:
    edition = proposed(engineer)
    with pytest.raises(Refused, match="in words"):
        reject_edition(by=second, edition=edition, version=1, note=" ", at=rows.NOW)
    assert reject_edition(by=second, edition=edition, version=1, note="No", at=rows.NOW).state == (
        "rejected"
    )


def test_nobody_approves_without_having_seen_what_it_changes(
    engineer: Person, second: Person
) -> None:
    edition = proposed(engineer)
    given: dict[str, Any] = {"by": second, "edition": edition, "version": 1, "at": rows.NOW}
    with pytest.raises(Conflict, match="Look first"):
        approve_edition(**given, preview=None, on=rows.DAY)
    run = looked_at(edition, second)
    with pytest.raises(Conflict, match="one of today"):
        approve_edition(**given, preview=run, on=rows.DAY + timedelta(days=1))
    approved(proposed(engineer, starts_on=rows.DAY + timedelta(days=9)), second)
    with pytest.raises(Conflict, match="Another edition was approved"):
        approve_edition(**given, preview=run, on=rows.DAY)


def test_an_edition_approved_late_begins_on_the_day_it_is_approved(
    engineer: Person, second: Person
) -> None:
    later = rows.DAY + timedelta(days=3)
    assert approved(proposed(engineer), second, on=later).begins_on == later


def test_two_editions_cannot_begin_on_one_day(engineer: Person, second: Person) -> None:
    one, other = proposed(engineer), proposed(engineer, interpass="weld-note-2001")
    approved(one, second)
    with pytest.raises(Conflict, match="begins on 2026-03-04"):
        approved(other, second)


def test_the_way_back_is_an_edition_without_changes(engineer: Person, second: Person) -> None:
    job = rows.job()
    shipped = rows.estimate_of(job)
    approved(proposed(engineer), second)
    next_day = rows.DAY + timedelta(days=1)
    back = approved(proposed(engineer, changes=(), starts_on=next_day), second)
    again = reestimate_job(by=engineer, job=job, on=next_day, at=rows.NOW)
    assert again.own_edition == back
    assert again.detail["arc_min"] == shipped.detail["arc_min"]


def test_the_railways_own_interpass_rule_is_kept_to(engineer: Person, second: Person) -> None:
    job = rows.job()
    colder = OwnInterpass(150, 25, "Cracks after hot passes")
    approved(proposed(engineer, changes=(), interpass=colder), second)
    after = reestimate_job(by=engineer, job=job, on=rows.DAY, at=rows.NOW)
    assert "below 150 degC" in " ".join(after.detail["hold_points"])


def test_the_preview_shows_both_and_writes_no_estimate(engineer: Person, second: Person) -> None:
    job = rows.job()
    edition = proposed(engineer)
    run = looked_at(edition, second)
    assert (run.state, run.result["looked_at"], run.result["changed"]) == ("done", 1, 1)
    (one,) = run.result["listed"]
    assert one["job"] == job.reference
    assert one["before"]["p50_min"] > one["after"]["p50_min"]
    assert one["before"]["filler_kg"] == pytest.approx(one["after"]["filler_kg"])
    assert run.result["sums"]["after"]["p50_min"] == one["after"]["p50_min"]
    assert Estimate.objects.count() == 1


def test_the_preview_leaves_issued_jobs_out_and_counts_them(engineer: Person) -> None:
    rows.sheet()
    result = procedure_preview(proposed(engineer), rows.DAY, rows.quiet)
    assert (result["looked_at"], result["stay"], result["listed"]) == (0, 1, [])


def test_the_preview_says_which_jobs_the_edition_could_not_do(engineer: Person) -> None:
    job = rows.job()
    shallow = (Change("depth_max_mm", 8.0, "Deeper goes to the shop"),)
    result = procedure_preview(proposed(engineer, changes=shallow), rows.DAY, rows.quiet)
    (one,) = result["listed"]
    assert (one["job"], result["refused"]) == (job.reference, 1)
    assert "deep" in one["after"]["refused"]
    assert result["sums"]["before"]["p50_min"] == 0


def test_approving_queues_new_estimates_of_waiting_jobs(engineer: Person, second: Person) -> None:
    job = rows.job()
    edition = approved(proposed(engineer), second)
    queued = LongRun.objects.get(kind="renewal")
    assert queued.requested_by == second
    queued.asked["on"] = rows.DAY.isoformat()
    tasks.renew_estimates(queued.pk)
    queued.refresh_from_db()
    assert queued.result == {"looked_at": 1, "renewed": 1, "refused": []}
    assert rows.estimate_of(job).own_edition == edition
    assert job.estimates.count() == 2


def test_issued_sheets_stay_as_issued(engineer: Person, second: Person) -> None:
    sheet = rows.sheet()
    content = sheet.content
    approved(proposed(engineer), second)
    result = renew_estimates(by=second, on=rows.DAY, at=rows.NOW, progress=rows.quiet)
    assert result.renewed == 0
    sheet.refresh_from_db()
    assert sheet.content == content
    assert sheet.job.estimates.count() == 1


def test_a_sheet_of_an_own_edition_says_its_settings(engineer: Person, second: Person) -> None:
    job = rows.job()
    approved(proposed(engineer), second)
    reestimate_job(by=engineer, job=job, on=rows.DAY, at=rows.NOW)
    content = rows.sheet(of=job).content
    (rate,) = [s for s in content["procedure"]["settings"] if s["key"] == "deposit_rate_kg_per_h"]
    assert (rate["value"], rate["unit"], rate["mark"]) == (5.0, "kg/h", "railway")
    assert content["procedure"]["since"] == rows.DAY.isoformat()
    assert any("wire feed 2.55 m/min" in step for step in content["steps"])
    assert JobSheet.objects.count() == 1


def test_every_night_estimates_follow_the_editions_that_began(
    engineer: Person, second: Person
) -> None:
    job = rows.job()
    later = rows.DAY + timedelta(days=2)
    edition = approved(proposed(engineer, starts_on=later), second)
    for day, expected in ((later - timedelta(days=1), None), (later, edition)):
        run = renew_tonight(at=rows.NOW + (day - rows.DAY))
        assert renew_tonight(at=rows.NOW + (day - rows.DAY)) == run
        tasks.renew_estimates(run.pk)
        assert rows.estimate_of(job).own_edition == expected


def test_making_jobs_anew_takes_the_edition_in_force(engineer: Person, second: Person) -> None:
    job = rows.job()
    assert rows.made(engineer).unchanged == 1
    edition = approved(proposed(engineer), second)
    assert rows.made(engineer).changed == 1
    assert rows.estimate_of(job).own_edition == edition
    assert rows.made(engineer).unchanged == 1


def test_every_step_is_in_the_audit(engineer: Person, second: Person) -> None:
    edition = approved(proposed(engineer), second)
    events = OwnerProcedure.pgh_event_model.objects.filter(pgh_obj_id=edition.pk)  # type: ignore[attr-defined]
    assert [row.pgh_label for row in events.order_by("pgh_id")] == ["insert", "update"]
    kept = OwnerSetting.pgh_event_model.objects.filter(edition_id=edition.pk)  # type: ignore[attr-defined]
    assert kept.count() == len(proposal().changes)
