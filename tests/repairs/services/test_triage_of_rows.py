"""Defects in the database are judged, all or nothing, and a decision once kept stays."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from repairs.models import Confirmation, Decision
from repairs.services import triage
from repairs.services.nightly import judge_again
from repairs.services.queue import request_triage
from repairs.services.triage import confirm_decision, triage_defect
from repairs.tasks import triage as judge_open
from tests import railway
from tests.repairs import rows
from turnouts.access import Forbidden
from turnouts.analysis.terms import DefectState, Quantity
from turnouts.models import Defect, DefectStep, LongRun, Person
from turnouts.services.errors import Conflict

pytestmark = pytest.mark.django_db


@pytest.fixture
def engineer() -> Person:
    return railway.person("engineer")


def test_a_point_worn_past_five_eighths_restricts_to_10_mph(engineer: Person) -> None:
    # 49 CFR 213.137(b): a point worn 5/8 in down and 6 in back, 10 mph.
    defect = rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
    decision = triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW)
    assert (decision.traffic, decision.speed_kmh) == ("restricted", Decimal(16))
    assert "213.137(b)" in decision.sentence


def test_measured_and_good_all_round_the_decision_is_class_speed_and_weld(engineer: Person) -> None:
    decision = triage_defect(by=engineer, defect=rows.spalled_point(), on=rows.DAY, at=rows.NOW)
    assert (decision.traffic, decision.disposition) == ("class_speed", "weld_in_track")


def test_a_defect_with_nothing_measured_never_gets_class_speed(engineer: Person) -> None:
    defect = railway.spalled_frog()
    decision = triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW)
    assert decision.traffic in ("unknown", "stop", "restricted")
    assert decision.detail["to_measure"]


def test_a_judged_defect_is_triaged_and_its_life_says_so(engineer: Person) -> None:
    defect = rows.spalled_point()
    rows.judged(engineer)
    defect.refresh_from_db()
    assert (defect.state, defect.version) == ("triaged", 2)
    assert [step.state for step in defect.steps.all()] == ["reported", "triaged"]


def test_judging_twice_on_one_day_changes_nothing(engineer: Person) -> None:
    rows.spalled_point()
    railway.spalled_frog()
    assert rows.judged(engineer).changed == 2
    kept = (Decision.objects.count(), DefectStep.objects.count())
    assert rows.judged(engineer).changed == 0
    assert (Decision.objects.count(), DefectStep.objects.count()) == kept


def test_a_new_reading_gives_a_new_decision_and_keeps_the_old_one(engineer: Person) -> None:
    defect = rows.spalled_point()
    rows.judged(engineer)
    later = railway.inspection(defect.turnout, inspected_at=railway.VISIT + timedelta(days=1))
    # 49 CFR 213.137(a): flangeway not less than 1 3/8 in (34.925 mm) deep, class 1.
    railway.measurement(later, Quantity.FLANGEWAY_DEPTH, "34", defect.component)
    assert rows.judged(engineer).changed == 1
    old, new = defect.decisions.order_by("id")
    assert (old.traffic, old.current) == ("class_speed", False)
    assert (new.traffic, new.current) == ("stop", True)


def test_nothing_is_kept_when_one_defect_cannot_be_judged(
    engineer: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows.spalled_point()
    railway.spalled_frog(reported_on=rows.DAY + timedelta(days=30))  # reported in the future
    monkeypatch.setattr(triage, "BATCH", 1)
    with pytest.raises(ValueError, match="before it was reported"):
        rows.judged(engineer)
    assert not Decision.objects.exists()
    assert {d.state for d in Defect.objects.all()} == {"reported"}


def test_queries_do_not_grow_with_the_defects_of_a_batch(engineer: Person) -> None:
    rows.spalled_point()
    with CaptureQueriesContext(connection) as few:
        rows.judged(engineer)
    spot = railway.turnout()
    for _ in range(10):
        rows.spalled_point(railway.turnout(spot.track))
    with CaptureQueriesContext(connection) as many:
        rows.judged(engineer)
    assert len(many) <= len(few)


def test_progress_counts_every_defect(engineer: Person, monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(3):
        railway.spalled_frog()
    monkeypatch.setattr(triage, "BATCH", 2)
    said: list[tuple[int, int]] = []
    triage.triage_open(
        by=engineer, on=rows.DAY, at=rows.NOW, progress=lambda d, t, _: said.append((d, t))
    )
    assert said == [(2, 3), (3, 3)]


def test_a_planned_defect_is_left_alone(engineer: Person) -> None:
    defect = rows.spalled_point()
    rows.judged(engineer)
    Defect.objects.update(state=DefectState.PLANNED.value)
    assert rows.judged(engineer).looked_at == 0
    defect.refresh_from_db()
    assert defect.state == "planned"


def test_defects_of_other_territories_are_not_judged() -> None:
    mine, other = rows.spalled_point(), rows.spalled_point()
    inspector = railway.person("inspector", mine.turnout.territory)
    assert rows.judged(inspector).looked_at == 1
    assert not other.decisions.exists()
    with pytest.raises(Forbidden):
        triage_defect(by=inspector, defect=other, on=rows.DAY, at=rows.NOW)


def test_a_welder_may_not_judge() -> None:
    with pytest.raises(Forbidden, match="run the triage"):
        rows.judged(railway.person("welder"))


def test_the_database_refuses_to_change_or_delete_a_decision(engineer: Person) -> None:
    rows.spalled_point()
    rows.judged(engineer)
    with pytest.raises(DatabaseError), transaction.atomic():
        Decision.objects.update(sentence="All is well.")
    with pytest.raises(DatabaseError), transaction.atomic():
        Decision.objects.all()._raw_delete(using="default")


def test_the_rows_behind_a_decision_are_kept_with_their_dates_and_values(engineer: Person) -> None:
    rows.spalled_point()
    rows.judged(engineer)
    detail = Decision.objects.get().detail
    seen = {row["rule_id"]: row for row in detail["rules_seen"]}
    # 49 CFR 213.137(a): 1 3/8 in for class 1, 1 1/2 in for classes 2 to 5.
    assert "1: 34.925 mm, 2: 38.1 mm" in seen["213.137(a)"]["value"]
    assert seen["213.137(a)"]["row_start"] == "1998-09-21"


def test_a_supervisor_confirms_once_and_only_the_current_decision(engineer: Person) -> None:
    defect = rows.spalled_point()
    rows.judged(engineer)
    supervisor = railway.person("supervisor", defect.turnout.territory)
    decision = Decision.objects.get()
    kept = confirm_decision(by=supervisor, decision=decision, at=rows.NOW, note="Looked at it")
    assert (kept.role, kept.by) == ("supervisor", supervisor)
    with pytest.raises(Conflict, match="confirmed already"):
        confirm_decision(by=supervisor, decision=decision, at=rows.NOW)
    Decision.objects.update(current=False)
    with pytest.raises(Conflict, match="newer decision"):
        confirm_decision(by=supervisor, decision=decision, at=rows.NOW)


def test_an_inspector_may_not_confirm(engineer: Person) -> None:
    defect = rows.spalled_point()
    rows.judged(engineer)
    inspector = railway.person("inspector", defect.turnout.territory)
    with pytest.raises(Forbidden):
        confirm_decision(by=inspector, decision=Decision.objects.get(), at=rows.NOW)
    assert not Confirmation.objects.exists()


def test_the_night_judges_once_a_day_in_nobodys_name() -> None:
    rows.spalled_point()
    first = judge_again(at=rows.NOW)
    assert judge_again(at=rows.NOW + timedelta(hours=1)) == first
    queued = LongRun.objects.get()
    assert queued == first
    judge_open(queued.pk)
    first.refresh_from_db()
    assert (first.state, first.result["changed"]) == ("done", 1)
    assert not first.requested_by.has_usable_password()


def test_the_audit_of_decisions_copied_in_bulk_says_for_whom_and_in_which_run(
    engineer: Person,
) -> None:
    rows.spalled_point()
    run = request_triage(by=engineer, on=rows.DAY, request_key="audited")
    judge_open(run.pk)
    events = Decision.pgh_event_model.objects.filter(pgh_label="insert")  # type: ignore[attr-defined]
    (event,) = events.select_related("pgh_context")
    assert event.pgh_obj_id == Decision.objects.get().pk
    assert event.pgh_context.metadata == {"user": engineer.pk, "run": run.pk}
