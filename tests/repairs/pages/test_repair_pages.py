"""What each person sees of disposition, repair jobs and job sheets."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from repairs.models import Confirmation, Decision, JobSheet, RepairJob
from repairs.services.job_sheets import withdraw_job_sheet
from tests import railway
from tests.repairs import rows
from turnouts.analysis.terms import Role
from turnouts.lifeline import life_line
from turnouts.models import Defect, LongRun, Person

pytestmark = pytest.mark.django_db


def as_(role: str, at: object = None) -> Client:
    client = Client()
    client.force_login(railway.person(role, at))  # type: ignore[arg-type]
    return client


def text(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, (address, answer.status_code)
    return answer.content.decode()


@pytest.fixture
def sheet() -> JobSheet:
    return rows.sheet()


def test_the_list_says_traffic_disposition_and_how_late() -> None:
    defect = rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
    engineer = railway.person("engineer")
    rows.judged(engineer)
    late = (timezone.localdate() - Decision.objects.get().due_on).days
    page = text(as_("inspector"), reverse("defects"))
    assert '<span class="traffic restricted">10 mph</span>' in page
    assert "Weld in track" in page
    assert f"late by {late} days" in page
    assert defect.reference in page


def test_a_reader_of_km_h_is_never_shown_more_than_the_limit() -> None:
    rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
    rows.judged(railway.person("engineer"))
    client = Client()
    client.force_login(railway.person("inspector", speed_unit="km/h"))
    # 10 mph is 16.09344 km/h exactly; 16 is the highest whole km/h below it.
    assert '<span class="traffic restricted">16 km/h</span>' in text(client, reverse("defects"))


@pytest.mark.parametrize(
    ("asked", "shown"),
    [
        ("state=triaged", True),
        ("state=closed", False),
        ("traffic=class_speed", True),
        ("traffic=stop", False),
        ("disposition=weld_in_track", True),
        ("disposition=replace", False),
        ("state=all", True),
    ],
)
def test_a_filter_keeps_what_fits(asked: str, shown: bool) -> None:
    defect = rows.spalled_point()
    rows.judged(railway.person("engineer"))
    page = text(as_("supervisor"), f"{reverse('defects')}?{asked}")
    assert (f"/defects/{defect.reference}/" in page) is shown


def test_a_closed_defect_is_not_among_the_open_ones() -> None:
    defect = rows.spalled_point()
    Defect.objects.update(state="closed")
    assert defect.reference not in text(as_("supervisor"), reverse("defects"))


@pytest.mark.parametrize("name", ["defects", "jobs", "job-sheets"])
def test_queries_of_a_list_do_not_grow_with_its_rows(name: str) -> None:
    track = railway.turnout().track
    engineer = railway.person("engineer")

    def fill(count: int) -> None:
        for _ in range(count):
            job = rows.job(rows.spalled_point(railway.turnout(track)), engineer)
            rows.sheet(job, track_time=_soon(job))

    def _soon(job: RepairJob) -> object:
        return rows.track_time(job, starts_at=timezone.now() + timedelta(hours=1))

    client = as_("supervisor")
    fill(2)
    client.get(reverse(name))
    with CaptureQueriesContext(connection) as few:
        client.get(reverse(name))
    fill(6)
    with CaptureQueriesContext(connection) as many:
        page = text(client, reverse(name))
    assert len(many) == len(few)
    assert page.count("<tr>") + page.count("<li") >= 8


def test_the_defect_page_gives_both_sides_of_a_limit_and_the_clause() -> None:
    defect = rows.spalled_point(depth_mm=Decimal(17), length_mm=Decimal(160))
    rows.judged(railway.person("engineer"))
    page = text(as_("supervisor"), reverse("defect", args=[defect.reference]))
    assert "49 CFR 213.137(b)" in page
    assert "5/8 in" in page  # the limit
    assert "just under 43/64 in" in page  # 17 mm
    assert "Past the limit" in page
    assert "A person qualified under 213.7" in page


def test_the_defect_page_says_what_to_measure_first() -> None:
    defect = railway.spalled_frog()
    rows.judged(railway.person("engineer"))
    page = text(as_("inspector"), reverse("defect", args=[defect.reference]))
    assert "Measure first" in page


def test_a_supervisor_confirms_what_they_have_before_them_and_no_newer_decision() -> None:
    defect = rows.spalled_point()
    rows.judged(railway.person("engineer"))
    seen = Decision.objects.get()
    client, address = as_("supervisor"), reverse("defect-confirm", args=[defect.reference])
    Decision.objects.update(current=False)
    answer = client.post(address, {"decision": seen.pk})
    assert answer.status_code == 409
    assert "newer decision" in answer.content.decode()
    Decision.objects.update(current=True)
    assert client.post(address, {"decision": seen.pk, "note": "Seen"}).status_code == 302
    assert Confirmation.objects.get().note == "Seen"


def test_the_button_pressed_twice_starts_one_run() -> None:
    client = as_("engineer")
    key = {"key": "1c9d2b3e6a654f1c8a5d7f1e2b3c4d5e"}
    first = client.post(reverse("judge-defects"), key)
    again = client.post(reverse("judge-defects"), key)
    assert first["Location"] == again["Location"]
    assert LongRun.objects.count() == 1
    assert "Waiting" in text(client, first["Location"])


def test_a_run_that_ended_says_what_came_of_it() -> None:
    person = railway.person("engineer")
    run = LongRun.objects.create(
        kind="jobs",
        request_key="k",
        requested_by=person,
        requested_at=rows.NOW,
        state="done",
        result={
            "made": 3,
            "changed": 1,
            "unchanged": 2,
            "cancelled": 0,
            "refused": ["F-1: too deep"],
        },
    )
    client = Client()
    client.force_login(person)
    page = text(client, f"{reverse('defects')}?run={run.pk}")
    assert "3 jobs made, 1 changed" in page
    assert "F-1: too deep" in page
    assert as_("engineer").get(f"{reverse('defects')}?run={run.pk}").status_code == 404


def test_the_job_page_shows_chances_and_says_which_figures_are_assumed() -> None:
    job = rows.job()
    page = text(as_("engineer"), reverse("job", args=[job.reference]))
    for words in ("95 %", "enough in 95 of 100", "AWS A5.21", "assumptions", "(assumed)"):
        assert words in page


def test_an_estimate_that_cannot_be_made_is_a_sentence() -> None:
    job = rows.job()
    Defect.objects.update(depth_mm=Decimal(60))
    address = reverse("job-estimate", args=[job.reference])
    answer = as_("supervisor").post(address)
    assert answer.status_code == 400
    assert "more than the 50 mm this procedure may fill" in answer.content.decode()


def test_my_sheets_are_those_made_out_to_me() -> None:
    job = rows.job()
    mine, other = rows.welder(job), rows.welder(job)
    starts = timezone.now() + timedelta(hours=1)
    sheet = rows.sheet(job, [mine], track_time=rows.track_time(job, starts_at=starts))
    for person, sees in ((mine, True), (other, False)):
        client = Client()
        client.force_login(person)
        assert (sheet.number in text(client, reverse("job-sheets"))) is sees
        assert sheet.number in text(client, reverse("job-sheets") + "?whose=all")


SECTIONS = "clock track briefing holds defects steps beads settings load accept cautions call"


def test_the_sheet_has_every_section_and_last_moments(sheet: JobSheet) -> None:
    client = as_("welder", sheet.job.turnout.territory)
    page = text(client, reverse("job-sheet", args=[sheet.number]))
    for section in SECTIONS.split(" "):
        assert f'<section id="{section}"' in page
        assert f'href="#{section}"' in page
    assert "not after" in page
    assert "penetrant finds only" in page.lower()


def test_a_withdrawn_sheet_says_so_before_anything_else(sheet: JobSheet) -> None:
    withdraw_job_sheet(by=railway.person("supervisor"), sheet=sheet, at=rows.NOW)
    page = text(as_("engineer"), reverse("job-sheet", args=[sheet.number]))
    assert page.index("Do not work by this sheet") < page.index("hand back by")


def test_no_page_carries_style_or_script_inside(sheet: JobSheet) -> None:
    client = as_("engineer")
    defect = sheet.job.treats.get().defect
    for address in (
        reverse("defects"),
        reverse("defect", args=[defect.reference]),
        reverse("jobs"),
        reverse("job", args=[sheet.job.reference]),
        reverse("job-sheets"),
        reverse("job-sheet", args=[sheet.number]),
    ):
        page = text(client, address)
        assert " style=" not in page
        assert "<style" not in page
        assert "onclick" not in page


def test_the_life_line_of_a_frog_tells_its_decisions_and_sheets(sheet: JobSheet) -> None:
    events = life_line(sheet.job.component, railway.person("engineer"))
    kinds = [event.kind for event in events]
    assert kinds.count("Decision") == 1
    assert kinds.count("Job sheet") == 1
    assert reverse("job-sheet", args=[sheet.number]) in [event.href for event in events]


def test_a_persons_name_stands_escaped(sheet: JobSheet) -> None:
    evil = Person.objects.create_user("evil", first_name="<b>Eve</b>")
    railway.grant(evil, Role.SUPERVISOR, sheet.job.turnout.territory)
    job = rows.job(rows.spalled_point(railway.turnout(sheet.job.turnout.track)))
    page = text(as_("engineer"), reverse("job-sheet", args=[rows.sheet(job).number]))
    assert "<b>Eve" not in page
