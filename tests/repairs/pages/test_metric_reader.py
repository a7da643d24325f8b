"""Somebody who reads and types millimetres: the defect page, the slider and the form."""

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from tests import railway
from tests.repairs import rows
from turnouts.models import Defect

pytestmark = pytest.mark.django_db


@pytest.fixture
def defect() -> Defect:
    """17 mm deep and 160 mm long: past 49 CFR 213.137(b), not over 10 mph."""
    found = rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
    rows.judged(railway.person("engineer"))
    return found


def reader(unit: str = "mm") -> Client:
    client = Client()
    client.force_login(railway.person("engineer", length_unit=unit))
    return client


def asked(client: Client, defect: Defect, **given: str) -> str:
    about = {"of": "defect_depth", "was": "defect_depth"}
    return client.get(reverse("what-if", args=[defect.reference]), about | given).content.decode()


def field(page: str, name: str) -> dict[str, str]:
    """The attributes of one input."""
    tag = next(t for t in re.findall(r"<input[^>]*>", page) if f' name="{name}"' in t)
    return dict(re.findall(r'([\w-]+)="([^"]*)"', tag))


def test_values_limits_and_margins_are_said_in_mm(defect: Defect) -> None:
    page = reader().get(reverse("defect", args=[defect.reference])).content.decode()
    cells = re.findall(r'data-name="(?:Measured|Limit|Margin)" class="num">([^<]*)', page)
    assert "17 mm" in cells
    assert "15.875 mm" in cells  # 5/8 in, 49 CFR 213.137(b), with all its digits
    assert "1.125 mm past" in cells
    assert [cell for cell in cells if not cell.endswith((" mm", " mm past", " mm inside"))] == []


def test_drawings_are_captioned_in_mm_for_one_and_in_inches_for_the_other(defect: Defect) -> None:
    address = reverse("defect", args=[defect.reference])
    in_mm, in_inches = (
        re.findall(r"<figcaption><strong>.*", reader(unit).get(address).content.decode())
        for unit in ("mm", "in")
    )
    assert any("measured 17 mm" in said and "limit 15.875 mm" in said for said in in_mm)
    assert any("limit 5/8 in" in said for said in in_inches)
    assert [said for said in in_mm if re.search(r"\d in\b", said)] == []


@pytest.mark.parametrize(
    ("typed", "restricted"),
    [
        ("15.875", False),  # 49 CFR 213.137(b): more than 5/8 in
        ("15.8750001", True),
        ("5/8 in", False),
        ("41/64 in", True),
    ],
)
def test_a_bare_number_is_mm_and_both_sides_of_the_limit_are_exact(
    typed: str, restricted: bool, defect: Defect
) -> None:
    page = asked(reader(), defect, value=typed)
    assert ('class="then restricted"' in page) is restricted
    assert ('class="then class_speed"' in page) is not restricted


def test_the_same_bare_number_is_inches_for_whoever_reads_inches(defect: Defect) -> None:
    assert "Depth of the defect 16 mm" in asked(reader(), defect, value="16")
    assert "Depth of the defect 16 in" in asked(reader("in"), defect, value="16")


def test_inches_typed_by_a_metric_reader_are_answered_in_mm(defect: Defect) -> None:
    page = asked(reader(), defect, value="5/8 in")
    assert field(page, "value")["value"] == "15.875 mm"
    assert "up to 15.875 mm" in page
    assert "over 15.875 mm" in page


@pytest.mark.parametrize(("slid_to", "kind"), [("15.5", "class_speed"), ("16.0", "restricted")])
def test_the_slider_goes_by_half_millimetres(slid_to: str, kind: str, defect: Defect) -> None:
    client = reader()
    first = asked(client, defect)
    slider = field(first, "slide")
    assert "Depth of the defect in mm" in first
    assert (slider["step"], slider["min"]) == ("0.5", "0")
    assert Decimal(slider["max"]) > Decimal("50.8")  # 2 in: the railway's last line of choice
    before = field(first, "before")["value"]
    assert before == "17 mm"
    moved = asked(client, defect, value=before, before=before, slid="17.0", slide=slid_to)
    assert f'class="then {kind}"' in moved
    assert field(moved, "value")["value"] == f"{Decimal(slid_to).normalize()} mm"
