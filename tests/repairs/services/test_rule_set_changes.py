"""A territory's rule sets change only when a second engineer has seen what that would do."""

from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, transaction

from repairs import tasks
from repairs.models import RuleSetChange
from repairs.services.owner_rules import approve_rule, propose_rule
from repairs.services.rule_preview import request_preview
from repairs.services.rule_set_changes import (
    approve_rule_sets,
    propose_rule_sets,
    reject_rule_sets,
)
from repairs.services.territory_rules import set_names
from repairs.services.triage import triage_defect
from tests import railway
from tests.repairs import rows
from tests.repairs.services.test_own_rules import looked_at as looked_at_rule
from tests.repairs.services.test_own_rules import proposal
from turnouts.access import Forbidden
from turnouts.models import Defect, LongRun, Person, Territory
from turnouts.services.errors import Conflict, Refused

pytestmark = pytest.mark.django_db

US, EU = "us-49cfr213", "eu-inf-tsi"


@pytest.fixture
def engineer() -> Person:
    return railway.person("engineer")


@pytest.fixture
def second() -> Person:
    return railway.person("engineer")


@pytest.fixture
def defect() -> Defect:
    return rows.spalled_point()


@pytest.fixture
def here(defect: Defect) -> Territory:
    return defect.turnout.territory


def proposed(by: Person, territory: Territory, **values: Any) -> RuleSetChange:
    given = {"names": [US, EU], "reason": "Trains from across the border"} | values
    return propose_rule_sets(by=by, territory=territory, at=rows.NOW, **given)


def looked_at(change: RuleSetChange, by: Person, key: str = "k1") -> LongRun:
    run = request_preview(by=by, rule=change, on=rows.DAY, request_key=f"{key} {change.pk}")
    tasks.rule_preview(run.pk)
    run.refresh_from_db()
    return run


def approved(change: RuleSetChange, by: Person, preview: LongRun | None) -> LongRun:
    return approve_rule_sets(by=by, change=change, preview=preview, on=rows.DAY, at=rows.NOW)


def test_the_rule_sets_change_when_a_second_engineer_approves_and_not_before(
    engineer: Person, second: Person, here: Territory
) -> None:
    change = proposed(engineer, here)
    assert set_names([here.pk])[here.pk] == [US]
    run = approved(change, second, looked_at(change, second))
    assert set_names([here.pk])[here.pk] == [US, EU]
    assert run.kind == "triage"
    change.refresh_from_db()
    assert (change.state, change.answered_by, change.stood) == ("approved", second, [US])


def test_the_preview_shows_what_the_other_sets_would_say(
    engineer: Person, defect: Defect, here: Territory
) -> None:
    before = triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW)
    other = rows.spalled_point()  # in a territory that the change does not speak of
    run = looked_at(proposed(engineer, here), engineer)
    assert run.result["looked_at"] == 1
    (change,) = run.result["listed"]
    assert change["defect"] == defect.reference != other.reference
    assert change["old"]["due_on"] == before.due_on.isoformat()
    rows.under(here, US, EU)
    after = triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW)
    assert change["new"]["due_on"] == after.due_on.isoformat()
    assert change["why"] == after.sentence


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"names": []}, "at least one"),
        ({"names": ["mars"]}, "no rule set mars"),
        ({"names": [US]}, "stands under these rule sets already"),
        ({"reason": " "}, "Say why"),
        ({"reason": "x" * 301}, "300 letters"),
    ],
)
def test_a_proposal_that_makes_no_sense_is_refused_in_words(
    engineer: Person, here: Territory, values: dict[str, Any], words: str
) -> None:
    with pytest.raises(Refused, match=words):
        proposed(engineer, here, **values)


def test_one_change_of_a_territory_waits_at_a_time(engineer: Person, here: Territory) -> None:
    proposed(engineer, here)
    with pytest.raises(Conflict, match="waits for an answer"):
        proposed(engineer, here, names=[EU])


@pytest.mark.parametrize("role", ["inspector", "welder", "supervisor", "administrator"])
def test_only_an_engineer_of_the_territory_proposes(role: str, here: Territory) -> None:
    with pytest.raises(Forbidden):
        proposed(railway.person(role), here)
    with pytest.raises(Forbidden):
        proposed(railway.person("engineer", railway.territory()), here)


def test_nobody_answers_their_own_proposal(engineer: Person, here: Territory) -> None:
    change = proposed(engineer, here)
    with pytest.raises(Forbidden, match="second engineer"):
        approved(change, engineer, looked_at(change, engineer))
    with pytest.raises(IntegrityError), transaction.atomic():
        RuleSetChange.objects.filter(pk=change.pk).update(
            state="approved", answered_by=engineer, answered_at=rows.NOW
        )


def test_nobody_approves_without_having_seen_what_it_changes(
    engineer: Person, second: Person, here: Territory
) -> None:
    change = proposed(engineer, here)
    with pytest.raises(Conflict, match="Look first"):
        approved(change, second, None)
    rule = propose_rule(by=engineer, proposal=proposal(), on=rows.DAY, at=rows.NOW)
    with pytest.raises(Conflict, match="Look first"):
        approved(change, second, looked_at_rule(rule, second))


def test_a_preview_made_before_another_approval_is_of_no_use(
    engineer: Person, second: Person, here: Territory
) -> None:
    change = proposed(engineer, here)
    seen = looked_at(change, second)
    rule = propose_rule(by=engineer, proposal=proposal(), on=rows.DAY, at=rows.NOW)
    preview = looked_at_rule(rule, second)
    approve_rule(by=second, rule=rule, preview=preview, on=rows.DAY, at=rows.NOW)
    with pytest.raises(Conflict, match="Another rule was approved"):
        approved(change, second, seen)


def test_a_preview_of_a_rule_is_of_no_use_once_the_rule_sets_are_others(
    engineer: Person, second: Person, here: Territory
) -> None:
    rule = propose_rule(by=engineer, proposal=proposal(), on=rows.DAY, at=rows.NOW)
    seen = looked_at_rule(rule, second)
    change = proposed(engineer, here)
    approved(change, second, looked_at(change, second))
    with pytest.raises(Conflict, match="Another rule was approved"):
        approve_rule(by=second, rule=rule, preview=seen, on=rows.DAY, at=rows.NOW)


def test_a_rejection_takes_words_and_changes_nothing(
    engineer: Person, second: Person, here: Territory
) -> None:
    change = proposed(engineer, here)
    with pytest.raises(Refused, match="Say in words"):
        reject_rule_sets(by=second, change=change, note=" ", at=rows.NOW)
    reject_rule_sets(by=second, change=change, note="Not this year", at=rows.NOW)
    assert set_names([here.pk])[here.pk] == [US]
    with pytest.raises(Conflict, match="rejected already"):
        approved(change, second, looked_at_of(change))
    proposed(engineer, here, names=[EU])  # another may be proposed now


def looked_at_of(change: RuleSetChange) -> LongRun | None:
    return LongRun.objects.filter(asked__sets=change.pk).first()


def test_an_answer_is_given_once_and_all_of_it_is_in_the_audit(
    engineer: Person, second: Person, here: Territory
) -> None:
    change = proposed(engineer, here)
    approved(change, second, looked_at(change, second))
    with pytest.raises(DatabaseError), transaction.atomic():
        RuleSetChange.objects.filter(pk=change.pk).update(answer_note="Changed my mind")
    events = RuleSetChange.pgh_event_model.objects.filter(pgh_obj_id=change.pk)  # type: ignore[attr-defined]
    assert [row.pgh_label for row in events.order_by("pgh_id")] == ["insert", "update"]
