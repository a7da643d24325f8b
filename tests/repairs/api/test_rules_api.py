"""Own rules and overruling, for programs: the same rights and refusals as on the pages."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from repairs import tasks
from repairs.models import Overrule, OwnerRule
from repairs.services.triage import triage_defect
from tests import railway
from tests.repairs import rows

pytestmark = pytest.mark.django_db

JSON = "application/json"
ROLES = ["inspector", "welder", "supervisor", "engineer", "administrator"]


def as_(role: str, at: Any = None) -> Client:
    client = Client()
    client.force_login(railway.person(role, at))
    return client


def proposal(**values: Any) -> dict[str, Any]:
    return {
        "rule": "213.137(c)",
        "figure": "limit",
        "value": "5",
        "starts_on": timezone.localdate().isoformat(),
        "reason": "Frogs break out early",
    } | values


def word(**values: Any) -> dict[str, Any]:
    return {
        "traffic": "stop",
        "disposition": "replace",
        "due_on": timezone.localdate().isoformat(),
        "reason": "Broken through",
    } | values


def decision() -> Any:
    return triage_defect(
        by=railway.person("engineer"),
        defect=rows.spalled_point(zone="tread"),
        on=timezone.localdate(),
        at=timezone.now(),
    )


@pytest.mark.parametrize("role", ROLES)
def test_engineers_propose_and_overrule_and_the_others_get_403(role: str) -> None:
    client, given = as_(role), decision()
    expected = 201 if role == "engineer" else 403
    assert client.post("/api/rules/", proposal(), JSON).status_code == expected
    address = f"/api/decisions/{given.pk}/overrule/"
    assert client.post(address, word(), JSON).status_code == expected
    assert client.get("/api/rules/").status_code == 200
    assert client.get("/api/overruling/").status_code == 200


def test_from_the_proposal_to_the_rule_in_force() -> None:
    made = as_("engineer").post("/api/rules/", proposal(), JSON).json()
    assert (made["state"], made["stood"]) == ("proposed", "3/8 in (9.525 mm)")
    second = as_("engineer")
    address = f"/api/rules/{made['id']}"
    run = second.post(f"{address}/preview/", {"request_key": "a"}, JSON)
    assert run.status_code == 202
    early = second.post(f"{address}/approve/", {"preview": run.json()["id"]}, JSON)
    assert early.status_code == 409
    tasks.rule_preview(run.json()["id"])
    answer = second.post(f"{address}/approve/", {"preview": run.json()["id"]}, JSON)
    assert answer.status_code == 202
    assert second.get(f"{address}/").json()["state"] == "approved"


def test_a_rejection_takes_words() -> None:
    made = as_("engineer").post("/api/rules/", proposal(), JSON).json()
    address = f"/api/rules/{made['id']}/reject/"
    second = as_("engineer")
    assert second.post(address, {}, JSON).status_code == 400
    assert second.post(address, {"note": "Not here"}, JSON).json()["state"] == "rejected"


def test_what_would_loosen_the_law_is_400_with_the_sentence() -> None:
    answer = as_("engineer").post("/api/rules/", proposal(value="12"), JSON)
    assert answer.status_code == 400
    assert "looser than the law" in answer.content.decode()
    assert not OwnerRule.objects.exists()


def test_the_proposer_cannot_approve() -> None:
    client = as_("engineer")
    made = client.post("/api/rules/", proposal(), JSON).json()
    address = f"/api/rules/{made['id']}/approve/"
    assert client.post(address, {"preview": 1}, JSON).status_code == 403


def test_rules_of_another_territory_do_not_exist() -> None:
    here = railway.territory()
    made = as_("engineer", here).post("/api/rules/", proposal(territory=here.code), JSON).json()
    other = as_("engineer", railway.territory())
    assert other.get("/api/rules/").json()["results"] == []
    assert other.get(f"/api/rules/{made['id']}/").status_code == 404


def test_a_decision_tells_what_holds_beside_what_the_rules_said() -> None:
    given, client = decision(), as_("engineer")
    client.post(f"/api/decisions/{given.pk}/overrule/", word(), JSON)
    one = client.get(f"/api/decisions/{given.pk}/").json()
    assert (one["traffic"], one["holds"]["traffic"]) == ("class_speed", "stop")
    assert (one["holds"]["overruled"], one["holds"]["asks_again"]) == (True, False)
    assert one["overrules"][0]["reason"] == "Broken through"
    (listed,) = client.get("/api/decisions/").json()["results"]
    assert listed["holds"]["disposition"] == "replace"


def test_a_milder_word_without_authority_is_400() -> None:
    defect = rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
    given = triage_defect(
        by=railway.person("engineer"), defect=defect, on=timezone.localdate(), at=timezone.now()
    )
    address = f"/api/decisions/{given.pk}/overrule/"
    client = as_("engineer")
    milder = word(traffic="class_speed")
    assert client.post(address, milder, JSON).status_code == 400
    milder |= {"authority": "213.7", "lifts": True}
    assert client.post(address, milder, JSON).json()["milder"] is True


def test_the_same_key_overrules_once() -> None:
    given, client = decision(), as_("engineer")
    address = f"/api/decisions/{given.pk}/overrule/"
    answers = [
        client.post(address, word(), JSON, headers={"Idempotency-Key": "once"}) for _ in range(2)
    ]
    assert answers[0].json() == answers[1].json()
    assert Overrule.objects.count() == 1


def test_lists_take_the_same_queries_however_long() -> None:
    client = as_("engineer")
    counts = []
    for many in (1, 4):
        for _ in range(many):
            client.post(f"/api/decisions/{decision().pk}/overrule/", word(), JSON)
        with CaptureQueriesContext(connection) as asked:
            client.get("/api/decisions/")
            client.get("/api/rules/")
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_territorys_rule_sets_from_the_proposal_to_the_answer() -> None:
    place = decision().defect.turnout.territory
    first, second = as_("engineer"), as_("engineer")
    given = {
        "territory": place.code,
        "names": ["us-49cfr213", "eu-inf-tsi"],
        "reason": "Trains from across the border",
    }
    made = first.post("/api/rule-sets/", given, content_type=JSON).json()
    assert (made["state"], made["stood"]) == ("proposed", ["us-49cfr213"])
    address = f"/api/rule-sets/{made['id']}/"
    run = second.post(f"{address}preview/", {"request_key": "a"}, content_type=JSON).json()
    tasks.rule_preview(run["id"])
    own = first.post(f"{address}approve/", {"preview": run["id"]}, content_type=JSON)
    assert own.status_code == 403
    kept = second.post(f"{address}approve/", {"preview": run["id"]}, content_type=JSON)
    assert kept.status_code == 202
    assert first.get(address).json()["state"] == "approved"


def test_a_rejected_change_of_rule_sets_keeps_the_words() -> None:
    place = railway.territory()
    given = {"territory": place.code, "names": ["eu-inf-tsi"], "reason": "New owner"}
    made = as_("engineer").post("/api/rule-sets/", given, content_type=JSON).json()
    address = f"/api/rule-sets/{made['id']}/"
    told = as_("engineer").post(f"{address}reject/", {"note": "Not yet"}, content_type=JSON).json()
    assert (told["state"], told["answer_note"]) == ("rejected", "Not yet")
    assert as_("engineer", railway.territory()).get(address).status_code == 404


def test_a_cap_may_be_given_in_km_h_and_is_kept_as_given() -> None:
    client = as_("engineer")
    given = proposal(rule="213.137(b)/down", figure="cap_mph", value="15", speed_unit="km/h")
    made = client.post("/api/rules/", given, content_type=JSON).json()
    assert (Decimal(made["value"]), made["typed"]) == (9, "15 km/h")
    slow = client.post("/api/rules/", given | {"value": "1.6"}, content_type=JSON)
    assert (slow.status_code, "below 1 mph" in slow.json()["value"]) == (400, True)
