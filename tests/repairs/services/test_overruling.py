"""An engineer overrules the machine: with a reason, with authority, and never in silence."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction
from django.test.utils import CaptureQueriesContext

from repairs.models import Decision, Overrule, RepairJob
from repairs.services.overrules import Word, overrule_decision
from repairs.services.sheet_content import _defect
from repairs.services.standing import standing_for, standing_of
from repairs.services.triage import confirm_decision, triage_defect
from tests import railway
from tests.repairs import rows
from turnouts.access import Forbidden
from turnouts.analysis.terms import Disposition, Quantity
from turnouts.models import Defect, Measurement, Person
from turnouts.services.errors import Conflict, Refused

pytestmark = pytest.mark.django_db

TEN_MPH = Decimal("16.09344")


@pytest.fixture
def engineer() -> Person:
    return railway.person("engineer")


@pytest.fixture
def restricted(engineer: Person) -> Decision:
    """A point worn 17 mm down and 160 mm back: 10 mph by 49 CFR 213.137(b)."""
    defect = rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
    return triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW)


@pytest.fixture
def at_speed(engineer: Person) -> Decision:
    """A point spalled 9 mm deep: class speed, weld in track."""
    return triage_defect(by=engineer, defect=rows.spalled_point(), on=rows.DAY, at=rows.NOW)


def word(decision: Decision, **values: Any) -> Word:
    """The machine's answer with these changes."""
    given: dict[str, Any] = {
        "traffic": decision.traffic,
        "speed_kmh": TEN_MPH if decision.traffic == "restricted" else None,
        "disposition": Disposition(decision.disposition),
        "due_on": decision.due_on,
        "reason": "Cracked through on Tuesday, seen by me",
    }
    return Word(**(given | values))


def said(by: Person, decision: Decision, **values: Any) -> Overrule:
    return overrule_decision(
        by=by, decision=decision, word=word(decision, **values), on=rows.DAY, at=rows.NOW
    )


def again(by: Person, decision: Decision, days: int = 0) -> Decision:
    day = rows.DAY + timedelta(days=days)
    return triage_defect(by=by, defect=decision.defect, on=day, at=rows.NOW)


def deeper(decision: Decision, depth_mm: str) -> None:
    Defect.objects.filter(pk=decision.defect_id).update(depth_mm=Decimal(depth_mm))
    decision.defect.refresh_from_db()


def test_a_stop_by_an_engineer_holds_beside_the_machines_answer(
    engineer: Person, at_speed: Decision
) -> None:
    kept = said(engineer, at_speed, traffic="stop", disposition=Disposition.REPLACE)
    holds = standing_of(at_speed)
    assert (holds.traffic, holds.disposition, holds.asks_again) == ("stop", "replace", False)
    assert (kept.milder, kept.authority, kept.role) == (False, "", "engineer")
    at_speed.refresh_from_db()
    assert (at_speed.traffic, at_speed.disposition) == ("class_speed", "weld_in_track")


@pytest.mark.parametrize("role", ["inspector", "welder", "supervisor", "administrator"])
def test_only_an_engineer_overrules(role: str, at_speed: Decision) -> None:
    with pytest.raises(Forbidden, match="overrule a decision"):
        said(railway.person(role), at_speed, traffic="stop")


def test_a_reason_is_asked_for(engineer: Person, at_speed: Decision) -> None:
    with pytest.raises(Refused, match="Say why"):
        said(engineer, at_speed, traffic="stop", reason=" ")


def test_milder_traffic_needs_an_authority_and_an_express_yes(
    engineer: Person, restricted: Decision
) -> None:
    with pytest.raises(Refused, match="Name under which authority"):
        said(engineer, restricted, traffic="class_speed", speed_kmh=None)
    with pytest.raises(Refused, match="Tick that you lift"):
        said(engineer, restricted, traffic="class_speed", speed_kmh=None, authority="213.7")
    kept = said(
        engineer, restricted, traffic="class_speed", speed_kmh=None, authority="213.7", lifts=True
    )
    assert (kept.milder, kept.authority) == (True, "213.7")


def test_the_local_rule_is_no_authority_on_federal_track(
    engineer: Person, restricted: Decision
) -> None:
    with pytest.raises(Refused, match="49 CFR 213"):
        said(
            engineer,
            restricted,
            traffic="class_speed",
            speed_kmh=None,
            authority="local",
            lifts=True,
        )


@pytest.mark.parametrize(
    ("kmh", "milder"), [("16.09344", False), ("16.1", True), ("8.04672", False)]
)
def test_more_than_ten_mph_is_milder_than_ten_mph(
    engineer: Person, restricted: Decision, kmh: str, milder: bool
) -> None:
    given: dict[str, Any] = {"speed_kmh": Decimal(kmh), "disposition": Disposition.REPLACE}
    if milder:
        with pytest.raises(Refused, match="authority"):
            said(engineer, restricted, **given)
    else:
        assert not said(engineer, restricted, **given).milder


def test_a_restriction_that_stays_longer_needs_an_authority(
    engineer: Person, restricted: Decision
) -> None:
    assert restricted.due_on is not None
    with pytest.raises(Refused, match="authority"):
        said(engineer, restricted, due_on=restricted.due_on + timedelta(days=1))


@pytest.mark.parametrize(
    ("speed_kmh", "days", "words"),
    [("16.09344", 30, ""), ("16.1", 30, "10 mph at most"), ("16.09344", 31, "30 days at most")],
)
def test_below_class_1_trains_run_at_10_mph_for_30_days_at_most(
    engineer: Person, speed_kmh: str, days: int, words: str
) -> None:
    # 49 CFR 213.9(b): class 1 speeds, not more than 30 days; 10 mph for freight in 213.9(a).
    defect = rows.spalled_point()
    gage = Measurement.objects.filter(quantity=Quantity.GUARD_CHECK_GAGE.value)
    gage.update(value=Decimal(1300))  # beyond every class of 49 CFR 213.143
    stop = triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW)
    assert stop.traffic == "stop"
    given = {
        "traffic": "restricted",
        "speed_kmh": Decimal(speed_kmh),
        "due_on": rows.DAY + timedelta(days=days),
        "authority": "213.9(b)",
        "lifts": True,
    }
    if words:
        with pytest.raises(Refused, match=words):
            said(engineer, stop, **given)
    else:
        assert said(engineer, stop, **given).milder


def test_what_the_rules_say_already_is_no_overruling(engineer: Person, at_speed: Decision) -> None:
    with pytest.raises(Refused, match="confirm"):
        said(engineer, at_speed)


def test_lifting_an_engineers_own_stop_needs_the_authority_too(
    engineer: Person, at_speed: Decision
) -> None:
    said(engineer, at_speed, traffic="stop")
    with pytest.raises(Refused, match="authority"):
        said(engineer, at_speed)
    said(engineer, at_speed, authority="213.7", lifts=True)
    assert standing_of(at_speed).overrule is None


def test_an_overruling_is_written_once(engineer: Person, at_speed: Decision) -> None:
    kept = said(engineer, at_speed, traffic="stop")
    with pytest.raises(DatabaseError), transaction.atomic():
        Overrule.objects.filter(pk=kept.pk).update(traffic="class_speed")
    with pytest.raises(DatabaseError), transaction.atomic():
        kept.delete()


def test_an_old_decision_is_not_overruled(engineer: Person, at_speed: Decision) -> None:
    deeper(at_speed, "17")
    again(engineer, at_speed)
    with pytest.raises(Conflict, match="newer decision"):
        said(engineer, at_speed, traffic="stop")


def test_an_overruled_decision_is_not_confirmed(engineer: Person, at_speed: Decision) -> None:
    said(engineer, at_speed, traffic="stop")
    with pytest.raises(Conflict, match="overruled"):
        confirm_decision(by=engineer, decision=at_speed, at=rows.NOW)


def test_a_word_is_carried_over_a_new_decision_on_the_same_facts(
    engineer: Person, at_speed: Decision
) -> None:
    kept = said(engineer, at_speed, traffic="stop")
    new = again(engineer, at_speed, days=40)  # the readings are old now, and nothing else is new
    assert new.pk != at_speed.pk
    holds = standing_of(new)
    assert (holds.traffic, holds.asks_again) == ("stop", False)
    assert holds.overrule is not None
    assert holds.overrule.carried_from == kept


def test_with_other_facts_the_word_is_not_dropped_and_asks_again(
    engineer: Person, at_speed: Decision
) -> None:
    said(engineer, at_speed, traffic="stop", disposition=Disposition.REPLACE)
    deeper(at_speed, "10")
    new = again(engineer, at_speed)
    holds = standing_of(new)
    assert new.pk != at_speed.pk
    assert (holds.traffic, holds.disposition, holds.asks_again) == ("stop", "replace", True)


def test_with_other_facts_a_milder_word_does_not_hold_against_a_stricter_machine(
    engineer: Person, at_speed: Decision
) -> None:
    said(engineer, at_speed, disposition=Disposition.WATCH)
    deeper(at_speed, "17")
    Defect.objects.filter(pk=at_speed.defect_id).update(length_mm=Decimal(160))
    at_speed.defect.refresh_from_db()
    holds = standing_of(again(engineer, at_speed))
    assert (holds.traffic, holds.disposition, holds.asks_again) == ("restricted", "watch", True)


def test_jobs_are_made_from_what_the_engineer_said(engineer: Person) -> None:
    shallow = rows.spalled_point(depth_mm=Decimal(2))
    decision = triage_defect(by=engineer, defect=shallow, on=rows.DAY, at=rows.NOW)
    assert decision.disposition != "weld_in_track"
    soon = rows.DAY + timedelta(days=2)
    said(engineer, decision, disposition=Disposition.WELD_IN_TRACK, due_on=soon)
    rows.made(engineer)
    job = RepairJob.objects.get()
    assert (job.disposition, job.due_on) == ("weld_in_track", soon)
    assert rows.made(engineer).unchanged == 1


def test_a_defect_to_be_replaced_by_an_engineers_word_makes_no_job(
    engineer: Person, at_speed: Decision
) -> None:
    rows.made(engineer)
    said(engineer, at_speed, disposition=Disposition.REPLACE)
    assert rows.made(engineer).cancelled == 1
    assert RepairJob.objects.get().state == "cancelled"


def test_the_sheet_says_what_holds_and_who_said_so(engineer: Person, at_speed: Decision) -> None:
    said(engineer, at_speed, traffic="restricted", speed_kmh=TEN_MPH)
    content = _defect(at_speed.defect, at_speed, standing_of(at_speed))
    assert content["traffic"] == "restricted"
    assert content["sentence"].startswith(f"Overruled by {engineer}, engineer: Cracked through")


def test_what_holds_of_many_decisions_is_read_in_one_query(engineer: Person) -> None:
    decisions = []
    for _ in range(3):
        defect = rows.spalled_point()
        decisions.append(triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW))
        said(engineer, decisions[-1], traffic="stop")
    with CaptureQueriesContext(connection) as asked:
        found = standing_for(decisions)
    assert len(asked) == 1
    assert {holds.traffic for holds in found.values()} == {"stop"}


def test_a_speed_belongs_to_a_restriction(engineer: Person, at_speed: Decision) -> None:
    for given in (
        {"traffic": "restricted"},
        {"traffic": "stop", "speed_kmh": TEN_MPH},
        {"traffic": "unknown"},
        {"traffic": "restricted", "speed_kmh": Decimal(0)},
        {"traffic": "stop", "due_on": rows.DAY - timedelta(days=1)},
    ):
        asked = replace(word(at_speed), **given)
        with pytest.raises(Refused):
            overrule_decision(by=engineer, decision=at_speed, word=asked, on=rows.DAY, at=rows.NOW)
