"""Which role may open which page and press which button, and where."""

import pytest
from django.test import Client
from django.urls import reverse

from repairs.models import Confirmation, Decision, Estimate, JobSheet
from tests import railway
from tests.repairs import rows
from turnouts.models import LongRun

pytestmark = pytest.mark.django_db


def as_(role: str, at: object = None) -> Client:
    client = Client()
    client.force_login(railway.person(role, at))  # type: ignore[arg-type]
    return client


@pytest.fixture
def sheet() -> JobSheet:
    return rows.sheet()


ADDRESSES = {
    "defects": "SEE",
    "defect": "SEE",
    "jobs": "SEE",
    "job": "SEE",
    "job-sheets": "SEE_SHEETS",
    "job-sheet": "SEE_SHEETS",
    "job-sheet-paper": "SEE_SHEETS",
    "job-sheet-work": "SEE_SHEETS",
    "job-sheet-record": "SEE_SHEETS",
    "job-sheet-record-file": "SEE_SHEETS",
    "job-sheet-record-paper": "SEE_SHEETS",
}
MAY_SEE_SHEETS = ("welder", "supervisor", "engineer")


def address_of(name: str, sheet: JobSheet) -> str:
    argument = {
        "defect": sheet.job.treats.get().defect.reference,
        "job": sheet.job.reference,
        "job-sheet": sheet.number,
    }.get(name, sheet.number if name.startswith("job-sheet-") else None)
    return reverse(name, args=[argument] if argument else [])


@pytest.mark.parametrize("role", ["inspector", "welder", "supervisor", "engineer", "administrator"])
@pytest.mark.parametrize("name", list(ADDRESSES))
def test_a_page_opens_for_the_roles_that_may_and_is_403_for_the_others(
    role: str, name: str, sheet: JobSheet
) -> None:
    client = as_(role, sheet.job.turnout.territory)
    allowed = ADDRESSES[name] == "SEE" or role in MAY_SEE_SHEETS
    assert client.get(address_of(name, sheet)).status_code == (200 if allowed else 403)


@pytest.mark.parametrize("name", [name for name in ADDRESSES if not name.endswith("s")])
def test_what_lies_in_another_territory_is_404(name: str, sheet: JobSheet) -> None:
    assert as_("engineer", railway.territory()).get(address_of(name, sheet)).status_code == 404


@pytest.mark.parametrize("name", list(ADDRESSES))
def test_nobody_sees_anything_without_logging_in(name: str, sheet: JobSheet) -> None:
    answer = Client().get(address_of(name, sheet))
    assert (answer.status_code, answer["Location"].split("?")[0]) == (302, "/login/")


@pytest.mark.parametrize(
    ("name", "allowed"),
    [
        ("judge-defects", ("inspector", "supervisor", "engineer")),
        ("make-jobs", ("supervisor", "engineer")),
        ("defect-judge", ("inspector", "supervisor", "engineer")),
        ("defect-confirm", ("supervisor", "engineer")),
        ("job-estimate", ("supervisor", "engineer")),
    ],
)
@pytest.mark.parametrize("role", ["inspector", "welder", "supervisor", "engineer", "administrator"])
def test_buttons_do_nothing_for_roles_that_may_not(
    name: str, allowed: tuple[str, ...], role: str
) -> None:
    job = rows.job()
    argument = {
        "defect-judge": job.treats.get().defect.reference,
        "defect-confirm": job.treats.get().defect.reference,
        "job-estimate": job.reference,
    }.get(name)
    address = reverse(name, args=[argument] if argument else [])
    given = {"key": "1c9d2b3e6a654f1c8a5d7f1e2b3c4d5e", "decision": Decision.objects.get().pk}
    before = (LongRun.objects.count(), Estimate.objects.count(), Confirmation.objects.count())
    answer = as_(role, job.turnout.territory).post(address, given)
    after = (LongRun.objects.count(), Estimate.objects.count(), Confirmation.objects.count())
    assert answer.status_code == (302 if role in allowed else 403)
    assert role in allowed or before == after
