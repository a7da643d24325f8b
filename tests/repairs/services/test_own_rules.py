"""The railway's own rules: proposed, looked at, answered by a second engineer, then in force."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from repairs import tasks
from repairs.models import Decision, OwnerRule
from repairs.services import owner_rules as service
from repairs.services.owner_rules import Proposal, approve_rule, propose_rule, reject_rule
from repairs.services.rule_preview import preview, request_preview
from repairs.services.territory_rules import rules_by_territory
from repairs.services.triage import triage_defect
from repairs.triage.owner_figures import Figure
from tests import railway
from tests.repairs import rows
from turnouts.access import Forbidden
from turnouts.models import LongRun, Person
from turnouts.services.errors import Conflict, Refused

pytestmark = pytest.mark.django_db


def proposal(**values: Any) -> Proposal:
    """A tread let down less far: 5 mm where 49 CFR 213.137(c) says 3/8 in."""
    given: dict[str, Any] = {
        "rule": "213.137(c)",
        "figure": Figure.LIMIT,
        "value": Decimal(5),
        "starts_on": rows.DAY,
        "reason": "Frogs on this line break out early",
    }
    return Proposal(**(given | values))


@pytest.fixture
def engineer() -> Person:
    return railway.person("engineer")


@pytest.fixture
def second() -> Person:
    return railway.person("engineer")


def proposed(by: Person, **values: Any) -> OwnerRule:
    return propose_rule(by=by, proposal=proposal(**values), on=rows.DAY, at=rows.NOW)


def looked_at(rule: OwnerRule, by: Person, key: str = "k1") -> LongRun:
    run = request_preview(by=by, rule=rule, on=rows.DAY, request_key=f"{key} {rule.pk}")
    tasks.rule_preview(run.pk)
    run.refresh_from_db()
    return run


def approved(rule: OwnerRule, by: Person) -> OwnerRule:
    approve_rule(by=by, rule=rule, preview=looked_at(rule, by), on=rows.DAY, at=rows.NOW)
    rule.refresh_from_db()
    return rule


def test_a_tighter_limit_is_in_force_once_a_second_engineer_approved_it(
    engineer: Person, second: Person
) -> None:
    # 9 mm is inside the 3/8 in (9.525 mm) of 49 CFR 213.137(c), and past the railway's own 5 mm.
    defect = rows.spalled_point(zone="tread")
    before = triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW)
    rule = proposed(engineer)
    assert triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW).pk == before.pk
    approved(rule, second)
    after = triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW)
    assert before.traffic == "class_speed"
    assert after.traffic != "class_speed"
    (seen,) = [row for row in after.detail["rules_seen"] if row["rule_id"] == rule.rule]
    assert "5 mm" in seen["value"]


def test_what_would_loosen_the_law_is_refused_with_the_sentence(engineer: Person) -> None:
    with pytest.raises(Refused, match="looser than the law"):
        proposed(engineer, value=Decimal(12))
    assert not OwnerRule.objects.exists()


def test_a_row_the_law_leaves_open_may_be_loosened(engineer: Person) -> None:
    rule = proposed(engineer, rule="owner/due-measure", figure=Figure.DAYS, value=Decimal(5))
    assert rule.stood == "3 days"


def test_a_proposal_says_what_stood_when_it_was_made(engineer: Person) -> None:
    assert proposed(engineer).stood == "3/8 in (9.525 mm)"


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"reason": "  "}, "say why"),
        ({"rule": "no such rule"}, "Take it from the list"),
        ({"starts_on": rows.DAY - timedelta(days=1)}, "before today"),
        ({"ends_on": rows.DAY}, "not after it starts"),
        ({"reason": "x" * 301}, "300 letters"),
        ({"value": Decimal(0)}, "above zero"),
        ({"figure": Figure.DAYS}, "has no days to set"),
    ],
)
def test_a_proposal_that_makes_no_sense_is_refused_in_words(
    engineer: Person, values: dict[str, Any], words: str
) -> None:
    with pytest.raises(Refused, match=words):
        proposed(engineer, **values)


@pytest.mark.parametrize("role", ["inspector", "welder", "supervisor", "administrator"])
def test_only_an_engineer_proposes(role: str) -> None:
    with pytest.raises(Forbidden):
        proposed(railway.person(role))


def test_a_rule_of_all_territories_takes_an_engineer_of_all() -> None:
    here = railway.territory()
    local = railway.person("engineer", here)
    with pytest.raises(Forbidden, match="all territories"):
        proposed(local)
    assert proposed(local, territory=here).territory == here


def test_nobody_answers_their_own_proposal(engineer: Person) -> None:
    rule = proposed(engineer)
    run = looked_at(rule, engineer)
    with pytest.raises(Forbidden, match="second engineer"):
        approve_rule(by=engineer, rule=rule, preview=run, on=rows.DAY, at=rows.NOW)


def test_the_database_itself_refuses_an_answer_by_the_proposer(engineer: Person) -> None:
    rule = proposed(engineer)
    with pytest.raises(IntegrityError, match="second_person"), transaction.atomic():
        OwnerRule.objects.filter(pk=rule.pk).update(
            state="approved", answered_by=engineer, answered_at=rows.NOW, begins_on=rows.DAY
        )


def test_a_rule_is_written_once_and_answered_once(engineer: Person, second: Person) -> None:
    rule = approved(proposed(engineer), second)
    for change in ({"value": Decimal(6)}, {"state": "rejected"}):
        with pytest.raises(DatabaseError), transaction.atomic():
            OwnerRule.objects.filter(pk=rule.pk).update(**change)
    with pytest.raises(DatabaseError), transaction.atomic():
        rule.delete()
    with pytest.raises(Conflict, match="approved already"):
        reject_rule(by=second, rule=rule, note="Too late", at=rows.NOW)


def test_a_rejection_needs_words_and_changes_nothing(engineer: Person, second: Person) -> None:
    rule = proposed(engineer)
    with pytest.raises(Refused, match="in words"):
        reject_rule(by=second, rule=rule, note=" ", at=rows.NOW)
    reject_rule(by=second, rule=rule, note="Not on this line", at=rows.NOW)
    here = railway.territory()
    assert rules_by_territory([here.pk])[here.pk][0].id == "us-49cfr213"


def test_nobody_approves_without_having_seen_what_it_changes(
    engineer: Person, second: Person
) -> None:
    rule = proposed(engineer)
    with pytest.raises(Conflict, match="Look first"):
        approve_rule(by=second, rule=rule, preview=None, on=rows.DAY, at=rows.NOW)
    run = looked_at(rule, second)
    tomorrow = rows.DAY + timedelta(days=1)
    with pytest.raises(Conflict, match="one of today"):
        approve_rule(by=second, rule=rule, preview=run, on=tomorrow, at=rows.NOW)
    other = approved(proposed(engineer, rule="owner/due-measure", figure=Figure.DAYS), second)
    assert other.state == "approved"
    with pytest.raises(Conflict, match="Another rule"):
        approve_rule(by=second, rule=rule, preview=run, on=rows.DAY, at=rows.NOW)


def test_the_preview_shows_old_and_new_and_writes_no_decision(
    engineer: Person, second: Person
) -> None:
    defect = rows.spalled_point(zone="tread")
    rows.judged(engineer)
    run = looked_at(proposed(engineer), second)
    assert (run.state, run.result["looked_at"], run.result["changed"]) == ("done", 1, 1)
    assert run.result["stricter"] == 1
    (listed,) = run.result["listed"]
    assert (listed["defect"], listed["old"]["traffic"]) == (defect.reference, "class_speed")
    assert "213.137(c)" in listed["why"]
    assert Decision.objects.count() == 1


def test_a_preview_looks_at_the_rules_own_territory_only(engineer: Person) -> None:
    mine = rows.spalled_point(zone="tread")
    rows.spalled_point(zone="tread")
    rule = proposed(engineer, territory=mine.turnout.territory)
    result = preview(rule, rows.DAY, rows.quiet)
    assert [one["defect"] for one in result["listed"]] == [mine.reference]
    assert result["looked_at"] == 1


def test_a_rule_of_a_territory_leaves_the_others_alone(engineer: Person, second: Person) -> None:
    here, there = railway.territory(), railway.territory()
    approved(proposed(engineer, territory=here), second)
    found = rules_by_territory([here.pk, there.pk])
    assert [found[here.pk][0].id, found[there.pk][0].id] == [
        "us-49cfr213+railway",
        "us-49cfr213",
    ]


def test_approving_queues_the_judging_of_open_defects(engineer: Person, second: Person) -> None:
    defect = rows.spalled_point(zone="tread")
    rows.judged(engineer)
    rule = proposed(engineer)
    run = looked_at(rule, second)
    queued = approve_rule(by=second, rule=rule, preview=run, on=rows.DAY, at=rows.NOW)
    assert (queued.kind, queued.requested_by) == ("triage", second)
    tasks.triage(queued.pk)
    assert defect.decisions.get(current=True).traffic != "class_speed"


def test_a_rule_approved_late_begins_on_the_day_it_is_approved(
    engineer: Person, second: Person
) -> None:
    rule = proposed(engineer)
    later = rows.DAY + timedelta(days=3)
    run = request_preview(by=second, rule=rule, on=later, request_key="late")
    tasks.rule_preview(run.pk)
    run.refresh_from_db()
    approve_rule(by=second, rule=rule, preview=run, on=later, at=rows.NOW)
    rule.refresh_from_db()
    assert rule.begins_on == later


def test_two_changes_of_one_figure_from_one_day_cannot_both_stand(
    engineer: Person, second: Person
) -> None:
    approved(proposed(engineer), second)
    with pytest.raises(Refused, match="same day"):
        proposed(engineer, value=Decimal(6))


def test_of_two_rule_sets_the_stricter_stands_and_both_are_kept(engineer: Person) -> None:
    defect = rows.spalled_point()
    alone = triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW)
    assert "by_set" not in alone.detail
    chosen = ["us-49cfr213", "eu-inf-tsi"]
    rows.under(defect.turnout.territory, *chosen)
    both = triage_defect(by=engineer, defect=defect, on=rows.DAY, at=rows.NOW)
    assert [one["rule_set"] for one in both.detail["by_set"]] == chosen
    assert both.rule_set.startswith("us-49cfr213 & eu-inf-tsi")
    assert both.due_on == min(date.fromisoformat(o["due_on"]) for o in both.detail["by_set"])


def test_reading_the_rules_takes_the_same_queries_for_many_territories(
    engineer: Person, second: Person
) -> None:
    approved(proposed(engineer), second)
    counts = []
    for many in (1, 8):
        places = [railway.territory().pk for _ in range(many)]
        with CaptureQueriesContext(
            connection,
        ) as asked:
            rules_by_territory(places)
        counts.append(len(asked))
    assert counts == [2, 2]


def test_every_change_of_a_rule_is_in_the_audit(engineer: Person, second: Person) -> None:
    rule = approved(proposed(engineer), second)
    labels = service.OwnerRule.pgh_event_model.objects.filter(pgh_obj_id=rule.pk)  # type: ignore[attr-defined]
    assert [row.pgh_label for row in labels.order_by("pgh_id")] == ["insert", "update"]
