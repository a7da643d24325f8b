"""Money is never a bare number: it stands with the railway's currency."""

import re
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from config import environment
from repairs.services.triage import triage_defect
from repairs.templatetags.pictures import money
from tests import railway
from tests.repairs import rows


def client() -> Client:
    made = Client()
    made.force_login(railway.person("engineer"))
    return made


@pytest.mark.parametrize("code", ["usd", "US", "US$", "EURO", ""])
def test_a_currency_that_is_no_code_of_iso_4217_is_refused_in_words(
    code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CURRENCY", code)
    with pytest.raises(ImproperlyConfigured, match="three capital letters of ISO 4217"):
        environment.currency()


def test_the_currency_is_that_of_the_setting_and_us_dollars_without_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.delenv("CURRENCY", raising=False)
    assert environment.currency() == "USD"
    monkeypatch.setenv("CURRENCY", "CHF")
    assert environment.currency() == "CHF"


def test_sum_and_currency_are_not_parted_at_the_end_of_a_line(settings: Any) -> None:
    settings.CURRENCY = "EUR"
    assert money(12300.4) == "EUR\N{NO-BREAK SPACE}12,300"


@pytest.mark.django_db
def test_pages_of_defects_and_jobs_name_the_currency(settings: Any) -> None:
    settings.CURRENCY = "CHF"
    defect = rows.spalled_point()
    job = rows.job(defect)
    by = client()
    page = by.get(reverse("defect", args=[defect])).content.decode()
    assert re.search(r"What each day costs: CHF\s[\d,]+<", page)
    assert "CHF/h" in page
    assert "money/h" not in page
    assert "Worth a day, CHF" in by.get(reverse("jobs")).content.decode()
    assert re.search(r"CHF\s[\d,]+: ", by.get(reverse("job", args=[job])).content.decode())


@pytest.mark.django_db
def test_the_api_gives_the_currency_with_every_sum(settings: Any) -> None:
    settings.CURRENCY = "CHF"
    defect = rows.spalled_point()
    triage_defect(
        by=railway.person("engineer"),
        defect=defect,
        on=timezone.localdate(),
        at=timezone.now(),
    )
    by = client()
    assert by.get(f"/api/decisions/costs/{defect}/").json()["currency"] == "CHF"
    job = rows.job(rows.spalled_point())
    assert by.get(f"/api/jobs/{job}/").json()["currency"] == "CHF"
