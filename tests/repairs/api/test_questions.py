"""What if and costs for programs: the same answers and the same doors as on the pages."""

from decimal import Decimal

import pytest
from django.test import Client

from tests import railway
from tests.repairs import rows

pytestmark = pytest.mark.django_db

JSON = "application/json"


def as_(role: str, at: object = None) -> Client:
    client = Client()
    client.force_login(railway.person(role, at))  # type: ignore[arg-type]
    return client


@pytest.mark.parametrize(
    ("value", "unit", "traffic"),
    [
        ("5/8", "in", "class_speed"),  # 49 CFR 213.137(b): more than 5/8 in
        ("15.875", "mm", "class_speed"),
        ("15.8750001", "mm", "restricted"),
        ("41/64", "in", "restricted"),
    ],
)
def test_what_if_turns_just_past_the_limit_in_either_unit(
    value: str, unit: str, traffic: str
) -> None:
    defect = rows.spalled_point(length_mm=Decimal(160))
    given = {"of": "defect_depth", "value": value, "unit": unit}
    answer = as_("engineer").post(f"/api/decisions/what-if/{defect.reference}/", given, JSON)
    assert (answer.status_code, answer.json()["then"]["traffic"]["kind"]) == (200, traffic)
    ends = [band["to_mm"] for band in answer.json()["bands"]]
    assert Decimal("15.875") in [Decimal(end) for end in ends if end]


@pytest.mark.parametrize(
    ("value", "traffic"),
    [
        # Reg. (EU) 1299/2014, 4.2.8.6(b), from memory: at least 1392 mm; a reading good to 0.2
        ("1392.19", "unknown"),
        ("1392.2", "class_speed"),
    ],
)
def test_what_if_under_two_rule_sets_names_both_and_turns_at_the_limits_of_both(
    value: str, traffic: str
) -> None:
    defect = rows.spalled_point(
        kind="metal_flow"
    )  # no wear: the European set judges it by measures
    rows.under(defect.turnout.territory, "us-49cfr213", "eu-inf-tsi")
    given = {"of": "guard_check_gage", "value": value, "unit": "mm"}
    answer = as_("engineer").post(f"/api/decisions/what-if/{defect.reference}/", given, JSON).json()
    assert answer["then"]["traffic"]["kind"] == traffic
    assert {"us-49cfr213", "eu-inf-tsi"} <= set(answer["then"]["rule_set"].split())
    ends = [Decimal(band["to_mm"]) for band in answer["bands"] if band["to_mm"]]
    # 4 ft 6 3/8 in of 49 CFR 213.143 for class 3, and 1392 mm, each with the 0.2 mm
    assert {Decimal("1381.325"), Decimal("1392.2")} <= set(ends)


def test_a_value_that_cannot_be_read_or_asked_is_400_with_a_sentence() -> None:
    address = f"/api/decisions/what-if/{rows.spalled_point().reference}/"
    client = as_("engineer")
    unread = client.post(address, {"of": "defect_depth", "value": "13/8", "unit": "in"}, JSON)
    assert unread.status_code == 400
    assert "cannot be read" in unread.json()["detail"]
    unknown = client.post(address, {"of": "moonlight", "value": "3"}, JSON)
    assert unknown.status_code == 400
    assert "defect_depth" in unknown.json()["detail"]


def test_what_would_change_it_is_listed_with_its_uncertainty() -> None:
    defect = rows.spalled_point()
    found = as_("welder").get(f"/api/decisions/what-if/{defect.reference}/").json()
    assert {"flangeway_width", "defect_depth"} <= {one["name"] for one in found["values"]}
    width = next(one for one in found["changes"] if one.get("quantity") == "flangeway_width")
    assert Decimal(width["uncertainty_mm"]) == Decimal("0.2")
    assert Decimal(width["value"]) == Decimal("38.3")  # 1 1/2 in and the uncertainty


def test_costs_come_with_the_mark_of_every_price() -> None:
    defect = rows.spalled_point()
    found = as_("supervisor").get(f"/api/decisions/costs/{defect.reference}/").json()
    assert found["slow_order"]["trains_per_day"] == 16  # 8 over each route
    assert len(found["life"]["cost"]["options"]) == 3
    marks = [row["source"] for row in found["life"]["assumed"] + found["slow_order"]["assumed"]]
    assert len(marks) > 15
    assert all(marks)


@pytest.mark.parametrize("path", ["what-if", "costs"])
def test_only_those_who_may_see_the_defect_are_answered(path: str) -> None:
    defect = rows.spalled_point()
    address = f"/api/decisions/{path}/{defect.reference}/"
    assert Client().get(address).status_code == 403
    assert as_("engineer", railway.territory()).get(address).status_code == 404
    assert as_("inspector", defect.turnout.territory).get(address).status_code == 200
