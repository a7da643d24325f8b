"""The panels of costs reckon for what holds, and say so where an engineer overruled the rules."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from repairs.models import Decision
from repairs.services.costs import as_held
from repairs.services.overrules import Word, overrule_decision
from repairs.services.standing import standing_of
from repairs.services.triage import triage_defect
from repairs.services.what_if import facts_of
from tests import railway
from tests.repairs import rows
from turnouts.analysis.terms import Disposition
from turnouts.models import Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def engineer() -> Person:
    return railway.person("engineer")


@pytest.fixture
def client(engineer: Person) -> Client:
    made = Client()
    made.force_login(engineer)
    return made


@pytest.fixture
def decision(engineer: Person) -> Decision:
    """A point to be welded in track at class speed."""
    return triage_defect(
        by=engineer, defect=rows.spalled_point(), on=timezone.localdate(), at=timezone.now()
    )


def overruled(by: Person, decision: Decision, **values: Any) -> None:
    given: dict[str, Any] = {
        "traffic": "class_speed",
        "speed_kmh": None,
        "disposition": Disposition.REPLACE,
        "due_on": timezone.localdate(),
        "reason": "The third time in a year",
    }
    word = Word(**(given | values))
    today, now = timezone.localdate(), timezone.now()
    overrule_decision(by=by, decision=decision, word=word, on=today, at=now)


def costs(client: Client, decision: Decision) -> Any:
    return client.get(f"/api/decisions/costs/{decision.defect}/").json()


def test_without_an_overruling_the_rules_answer_is_reckoned_for(
    client: Client, decision: Decision
) -> None:
    found = costs(client, decision)
    assert found["reckoned_for"] == found["by_the_rules"]
    page = client.get(reverse("defect", args=[decision.defect])).content.decode()
    assert "Overruled" not in page


def test_the_way_that_holds_is_the_one_compared_with_the_cheapest(
    client: Client, engineer: Person, decision: Decision
) -> None:
    before = costs(client, decision)["life"]["cost"]
    overruled(engineer, decision)
    found = costs(client, decision)
    assert found["by_the_rules"]["disposition"] == "weld_in_track"
    assert found["reckoned_for"]["disposition"] == "replace"
    ways = {one["way"]["disposition"]: one for one in found["life"]["cost"]["options"]}
    cheapest = ways[found["life"]["cost"]["cheapest"]]
    saving = ways["replace"]["equal_annual"] - cheapest["equal_annual"]
    assert found["life"]["cost"]["saving"] == pytest.approx(saving)
    assert found["life"]["cost"]["saving"] > before["saving"]
    page = client.get(reverse("defect", args=[decision.defect])).content.decode()
    assert "Overruled: it is reckoned for replace" in page
    assert "the rules say weld in track" in page
    assert '<span class="word">holds</span>' in page


def test_a_stop_by_an_engineers_word_costs_what_a_closed_line_costs(
    client: Client, engineer: Person, decision: Decision
) -> None:
    before = costs(client, decision)["slow_order"]
    overruled(engineer, decision, traffic="stop")
    after = costs(client, decision)["slow_order"]
    assert after["reason"] == "traffic is stopped"
    assert after["money_per_day"] > before["money_per_day"]


def test_a_disposition_with_nothing_to_compare_says_what_holds(
    client: Client, engineer: Person, decision: Decision
) -> None:
    overruled(engineer, decision, disposition=Disposition.WATCH)
    page = client.get(reverse("defect", args=[decision.defect])).content.decode()
    assert "Overruled: what holds is watch; the rules say weld in track." in page


def test_what_the_law_closes_stays_closed_whatever_an_engineer_says(
    engineer: Person, decision: Decision
) -> None:
    overruled(engineer, decision)
    facts = facts_of(decision.defect, timezone.localdate())
    decided = facts.judged(facts.case)
    held = as_held(decided, standing_of(decision))
    assert held.findings == decided.findings
