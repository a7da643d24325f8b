"""The pages of the railway's own rules and of overruling, for each role."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from repairs import tasks
from repairs.models import Decision, Overrule, OwnerRule, RuleSetChange
from repairs.services.owner_rules import Proposal, propose_rule
from repairs.services.rule_preview import PREVIEW_TASK
from repairs.services.triage import triage_defect
from repairs.triage.owner_figures import Figure
from tests import railway
from tests.repairs import rows
from turnouts.models import Defect, LongRun, Person, Territory

pytestmark = pytest.mark.django_db

ROLES = ["inspector", "welder", "supervisor", "engineer", "administrator"]
KEY = "1c9d2b3e6a654f1c8a5d7f1e2b3c4d5e"


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def as_(role: str, at: Territory | None = None) -> Client:
    return client_of(railway.person(role, at))


@pytest.fixture
def defect() -> Defect:
    return rows.spalled_point(zone="tread")


def judged(defect: Defect) -> Decision:
    by = railway.person("engineer")
    return triage_defect(by=by, defect=defect, on=timezone.localdate(), at=timezone.now())


def proposed(value: str = "5", **values: Any) -> OwnerRule:
    given: dict[str, Any] = {
        "rule": "213.137(c)",
        "figure": Figure.LIMIT,
        "value": Decimal(value),
        "starts_on": timezone.localdate(),
        "reason": "Frogs break out early",
    }
    return propose_rule(
        by=railway.person("engineer"),
        proposal=Proposal(**(given | values)),
        on=timezone.localdate(),
        at=timezone.now(),
    )


def form(**values: Any) -> dict[str, Any]:
    given = {"value": "1/4", "starts_on": timezone.localdate().isoformat(), "reason": "Early"}
    return given | values


PROPOSE = "/rules/propose/?rule=213.137(c)&figure=limit"


@pytest.mark.parametrize("role", ROLES)
def test_pages_open_for_the_roles_that_may(role: str, defect: Defect) -> None:
    judged(defect)
    rule = proposed()
    client = as_(role, defect.turnout.territory)
    everybody = [reverse("rules"), reverse("rule", args=[rule.pk]), reverse("overruling")]
    engineers = [reverse("rule-rows"), PROPOSE, reverse("defect-overrule", args=[defect])]
    for address in everybody:
        assert client.get(address).status_code == 200, address
    for address in engineers:
        assert client.get(address).status_code == (200 if role == "engineer" else 403), address


@pytest.mark.parametrize("role", ROLES)
def test_buttons_do_nothing_for_roles_that_may_not(role: str, defect: Defect) -> None:
    decision = judged(defect)
    rule = proposed(territory=defect.turnout.territory)
    client = as_(role, defect.turnout.territory)
    word = {
        "decision": decision.pk,
        "traffic": "stop",
        "disposition": "replace",
        "due_on": timezone.localdate().isoformat(),
        "reason": "Broken",
    }
    answers = [
        client.post(PROPOSE, form(territory=defect.turnout.territory.pk)),
        client.post(reverse("rule-preview", args=[rule.pk]), {"key": KEY}),
        client.post(reverse("rule-answer", args=[rule.pk]), {"answer": "reject", "note": "No"}),
        client.post(reverse("defect-overrule", args=[defect]), word),
        client.post(
            reverse("territory-sets", args=[defect.turnout.territory.code]),
            {"names": ["us-49cfr213", "eu-inf-tsi"], "reason": "Trains from across the border"},
        ),
    ]
    expected = 302 if role == "engineer" else 403
    assert [answer.status_code for answer in answers] == [expected] * len(answers)
    done = (OwnerRule.objects.count(), Overrule.objects.count())
    assert done == ((2, 1) if role == "engineer" else (1, 0))


def test_a_rule_of_another_territory_does_not_exist() -> None:
    rule = proposed(territory=railway.territory())
    answer = as_("engineer", railway.territory()).get(reverse("rule", args=[rule.pk]))
    assert answer.status_code == 404


@pytest.mark.parametrize(
    ("unit", "now", "sides"),
    [
        ("in", "at most 3/8 in", "3/8 in is within; 25/64 in is past"),
        ("mm", "at most 9.525 mm", "9.525 mm is within; 9.625 mm is past"),
    ],
)
def test_the_present_value_stands_beside_with_both_sides_in_the_readers_units(
    unit: str, now: str, sides: str
) -> None:
    # 49 CFR 213.137(c): 3/8 in on the tread of a casting.
    page = client_of(railway.person("engineer", length_unit=unit)).get(PROPOSE).content.decode()
    assert now in page
    assert sides in page


def test_a_proposal_is_read_in_the_persons_own_unit() -> None:
    client = as_("engineer")
    answer = client.post(PROPOSE, form())
    row = OwnerRule.objects.get()
    assert answer["Location"] == reverse("rule", args=[row.pk])
    assert row.value == Decimal("6.35")  # 1/4 in


def test_a_refused_proposal_says_why_and_keeps_what_was_typed() -> None:
    answer = as_("engineer").post(PROPOSE, form(value="1/2"))
    page = answer.content.decode()
    assert answer.status_code == 400
    assert "looser than the law" in page
    assert 'value="1/2"' in page
    assert not OwnerRule.objects.exists()


@pytest.mark.parametrize("value", ["x", "-3", "1.5", "", "9999999999"])
def test_a_whole_number_is_asked_for_where_it_must_be_one(value: str) -> None:
    address = "/rules/propose/?rule=owner/due-measure&figure=days"
    assert as_("engineer").post(address, form(value=value)).status_code == 400


def test_an_unknown_figure_is_404() -> None:
    client = as_("engineer")
    assert client.get("/rules/propose/?rule=nothing&figure=limit").status_code == 404


def test_from_the_look_to_the_approval(defect: Defect) -> None:
    judged(defect)
    rule = proposed()
    second = as_("engineer")
    page = second.get(reverse("rule", args=[rule.pk])).content.decode()
    assert "Look first at what the rule would change" in page
    second.post(reverse("rule-preview", args=[rule.pk]), {"key": KEY})
    run = LongRun.objects.get(task=PREVIEW_TASK)
    tasks.rule_preview(run.pk)
    page = second.get(reverse("rule", args=[rule.pk])).content.decode()
    assert defect.reference in page
    assert "because of" in page
    answer = second.post(
        reverse("rule-answer", args=[rule.pk]), {"answer": "approve", "preview": run.pk}
    )
    queued = LongRun.objects.get(kind="triage")
    assert answer["Location"] == f"/defects/?run={queued.pk}"
    tasks.triage(queued.pk)
    rule.refresh_from_db()
    assert rule.state == "approved"
    assert "1 new answer" in second.get(answer["Location"]).content.decode()


def test_the_proposer_is_shown_no_buttons_to_answer() -> None:
    rule = proposed()
    client = client_of(rule.proposed_by)
    page = client.get(reverse("rule", args=[rule.pk])).content.decode()
    assert "Approve, and judge" not in page
    assert "second engineer" in page
    given = {"answer": "approve"}
    assert client.post(reverse("rule-answer", args=[rule.pk]), given).status_code == 403


def test_the_defects_page_shows_the_word_and_the_machine(defect: Defect) -> None:
    decision = judged(defect)
    engineer = railway.person("engineer", first_name="Ada", last_name="Lund")
    client = client_of(engineer)
    given = {
        "decision": decision.pk,
        "traffic": "restricted",
        "speed": "5",
        "disposition": "replace",
        "due_on": timezone.localdate().isoformat(),
        "reason": "Broken through at the throat",
    }
    assert client.post(reverse("defect-overrule", args=[defect]), given).status_code == 302
    page = client.get(reverse("defect", args=[defect])).content.decode()
    assert "Overruled by Ada Lund, engineer: Broken through at the throat" in page
    assert "5 mph" in page
    assert decision.sentence.split(".")[0] in page
    assert "Confirm under your name" not in page
    listed = client.get(reverse("defects")).content.decode()
    assert "By an engineer" in listed
    assert "Replace" in listed


def test_facts_that_changed_since_ask_the_engineer_again(defect: Defect) -> None:
    decision = judged(defect)
    client = as_("engineer")
    given = {
        "decision": decision.pk,
        "traffic": "stop",
        "disposition": "replace",
        "due_on": timezone.localdate().isoformat(),
        "reason": "Broken",
    }
    client.post(reverse("defect-overrule", args=[defect]), given)
    Defect.objects.filter(pk=defect.pk).update(depth_mm=Decimal(3))
    defect.refresh_from_db()
    judged(defect)
    page = client.get(reverse("defect", args=[defect])).content.decode()
    assert "Overruled earlier; the facts have changed since" in page
    assert "facts have changed" in client.get(reverse("defects")).content.decode()


def test_a_milder_word_is_refused_in_the_form_until_it_names_its_authority() -> None:
    defect = rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
    decision = judged(defect)
    client = as_("engineer")
    given = {
        "decision": decision.pk,
        "traffic": "class_speed",
        "disposition": decision.disposition,
        "due_on": timezone.localdate().isoformat(),
        "reason": "Measured again by me",
    }
    address = reverse("defect-overrule", args=[defect])
    answer = client.post(address, given)
    assert (answer.status_code, Overrule.objects.count()) == (400, 0)
    assert "Name under which authority" in answer.content.decode()
    assert client.post(address, given | {"authority": "213.7", "lifts": "on"}).status_code == 302
    assert Overrule.objects.get().authority == "213.7"


def test_the_rate_of_overruling_by_rule_counts_each_defect_once() -> None:
    # 49 CFR 213.137(b) decides on both; one of the two is overruled.
    client = as_("engineer")
    for number in range(2):
        defect = rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
        decision = judged(defect)
        given = {
            "decision": decision.pk,
            "traffic": "stop",
            "disposition": "replace",
            "due_on": timezone.localdate().isoformat(),
            "reason": "Broken",
        }
        if not number:
            client.post(reverse("defect-overrule", args=[defect]), given)
    lines = client.get(reverse("overruling-csv")).content.decode().splitlines()
    assert lines[0] == "rule,clause,title,judged,overruled,milder,share"
    (line,) = [line for line in lines if line.startswith("213.137(b)/")][:1]
    assert line.endswith(",2,1,0,0.5000")
    assert "50 %" in client.get(reverse("overruling")).content.decode()


def test_rates_of_another_territory_are_not_counted(defect: Defect) -> None:
    judged(defect)
    lines = as_("engineer", railway.territory()).get(reverse("overruling-csv")).content
    assert lines.decode().splitlines() == ["rule,clause,title,judged,overruled,milder,share"]


def test_a_territory_under_two_sets_shows_both_on_the_defect(defect: Defect) -> None:
    client = as_("engineer")
    rows.under(defect.turnout.territory, "us-49cfr213", "eu-inf-tsi")
    judged(defect)
    page = client.get(reverse("defect", args=[defect])).content.decode()
    assert "2 rule sets stand here" in page


@pytest.mark.parametrize("name", ["rules", "overruling", "defects"])
def test_pages_take_the_same_queries_however_much_they_show(name: str) -> None:
    client = as_("engineer")
    counts = []
    for many in (1, 4):
        for number in range(many):
            defect = rows.spalled_point()
            decision = judged(defect)
            given = {
                "decision": decision.pk,
                "traffic": "stop",
                "disposition": "replace",
                "due_on": timezone.localdate().isoformat(),
                "reason": "Broken",
            }
            client.post(reverse("defect-overrule", args=[defect]), given)
            proposed(str(5 + number), territory=defect.turnout.territory)
        client.get(reverse(name))
        with CaptureQueriesContext(connection) as asked:
            assert client.get(reverse(name)).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]


def test_a_territorys_rule_sets_from_the_proposal_to_the_answer(defect: Defect) -> None:
    judged(defect)
    first, second = as_("engineer"), as_("engineer")
    given = {"names": ["us-49cfr213", "eu-inf-tsi"], "reason": "Trains from across the border"}
    sent = first.post(reverse("territory-sets", args=[defect.turnout.territory.code]), given)
    assert "waits for a second engineer" in first.get(reverse("rules")).content.decode()
    assert "It waits for the answer" in first.get(sent.url).content.decode()
    change = RuleSetChange.objects.get()
    second.post(reverse("rule-set-preview", args=[change.pk]), {"key": KEY})
    run = LongRun.objects.get(task=PREVIEW_TASK)
    tasks.rule_preview(run.pk)
    page = second.get(sent.url).content.decode()
    assert "Approve, and judge the open defects by it" in page
    assert "Trains from across the border" in page
    answer = {"answer": "approve", "preview": run.pk, "note": ""}
    second.post(reverse("rule-set-answer", args=[change.pk]), answer)
    change.refresh_from_db()
    assert change.state == "approved"


def test_a_change_of_rule_sets_elsewhere_does_not_exist(defect: Defect) -> None:
    client = as_("engineer")
    given = {"names": ["eu-inf-tsi"], "reason": "Trains from across the border"}
    client.post(reverse("territory-sets", args=[defect.turnout.territory.code]), given)
    address = reverse("rule-set-change", args=[RuleSetChange.objects.get().pk])
    assert client.get(address).status_code == 200
    assert as_("engineer", railway.territory()).get(address).status_code == 404


CAP = "/rules/propose/?rule=213.137(b)/down&figure=cap_mph"


@pytest.mark.parametrize(
    ("unit", "text", "mph", "typed"),
    [
        # 1 mph is 1.609344 km/h exactly (NIST Handbook 44 appendix C): 9 mph is 14.484096 km/h
        ("km/h", "14.484096", 9, ""),
        ("km/h", "14.484", 8, "14.484 km/h"),
        ("km/h", "15", 9, "15 km/h"),
        ("km/h", "9 mph", 9, ""),
        ("mph", "9", 9, ""),
        ("mph", "15 km/h", 9, "15 km/h"),
    ],
)
def test_a_speed_is_typed_in_the_persons_unit_kept_as_typed_and_never_rounded_up(
    unit: str, text: str, mph: int, typed: str
) -> None:
    client = client_of(railway.person("engineer", speed_unit=unit))
    assert f"New speed, {unit}" in client.get(CAP).content.decode()
    answer = client.post(CAP, form(value=text))
    row = OwnerRule.objects.get()
    assert (row.value, row.typed) == (mph, typed)
    page = client.get(answer["Location"]).content.decode()
    assert f"{mph} mph" in page
    assert (f"typed as {typed}" in page) is bool(typed)


@pytest.mark.parametrize("text", ["8.5", "1.6 km/h", "0", "fast", ""])
def test_a_speed_the_rules_cannot_reckon_with_is_refused_in_words(text: str) -> None:
    answer = client_of(railway.person("engineer", speed_unit="mph")).post(CAP, form(value=text))
    assert answer.status_code == 400
    assert not OwnerRule.objects.exists()


@pytest.mark.parametrize(
    ("unit", "shown"), [("mph", "10 mph (16 km/h)"), ("km/h", "16 km/h (10 mph)")]
)
def test_a_speed_of_the_rules_stands_in_both_units_the_readers_first(unit: str, shown: str) -> None:
    # 10 mph is 16.09344 km/h; 16 is the highest whole km/h below it.
    page = client_of(railway.person("engineer", speed_unit=unit)).get(CAP).content.decode()
    assert shown in page
