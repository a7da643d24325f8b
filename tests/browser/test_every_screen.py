"""Every page, with something on it: for people who read by ear, by key, in the dark, on a phone."""

from collections.abc import Iterator
from datetime import date, timedelta
from io import BytesIO
from typing import Any

import pytest
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from PIL import Image
from playwright.sync_api import Page

from planning.models import WeekPlan
from repairs.models import JobSheet, RepairJob
from repairs.paper.review import review_paper
from repairs.services.certificates import add_proof_picture
from repairs.services.review_runs import carry_out_review, request_review
from tests import railway
from tests.browser.conftest import Enter
from tests.browser.district import District, district
from tests.browser.files import as_workbook, spalled_points
from tests.browser.looking import DESK, PHONE, grave_faults, wider_than_its_screen
from tests.browser.repairs import asked_about, looked_at, published_week, taken_out, waiting_jobs
from tests.repairs.trackside import Night
from turnouts.analysis.terms import Quantity, Role
from turnouts.models import (
    Component,
    ComponentRank,
    Defect,
    EarlyWarning,
    Inspection,
    LongRun,
    ShopVisit,
)
from turnouts.services.photographs import add_photograph
from turnouts.services.runs import carry_out

SCREENS: dict[str, Role | None] = {
    "login": None,
    "own-settings": Role.WELDER,
    "own-password": Role.WELDER,
    "week": Role.SUPERVISOR,
    "move-job": Role.SUPERVISOR,
    "compare-plans": Role.SUPERVISOR,
    "ask-week-what-if": Role.SUPERVISOR,
    "network-week": Role.SUPERVISOR,
    "week-what-if": Role.SUPERVISOR,
    "load-out": Role.WELDER,
    "crew-calendars": Role.WELDER,
    "renewals": Role.SUPERVISOR,
    "stock": Role.SUPERVISOR,
    "defects": Role.SUPERVISOR,
    "defect": Role.SUPERVISOR,
    "what-if": Role.SUPERVISOR,
    "defect-overrule": Role.ENGINEER,
    "rules": Role.ENGINEER,
    "procedures": Role.ENGINEER,
    "procedure": Role.WELDER,
    "rule-rows": Role.ENGINEER,
    "overruling": Role.ENGINEER,
    "jobs": Role.SUPERVISOR,
    "job": Role.SUPERVISOR,
    "job-try": Role.SUPERVISOR,
    "running-jobs": Role.SUPERVISOR,
    "job-sheets": Role.WELDER,
    "job-sheet": Role.WELDER,
    "job-sheet-work": Role.WELDER,
    "job-sheet-record": Role.SUPERVISOR,
    "put-right": Role.SUPERVISOR,
    "paper-entry": Role.SUPERVISOR,
    "certificates": Role.SUPERVISOR,
    "certificates-of": Role.ADMINISTRATOR,
    "certificate": Role.ADMINISTRATOR,
    "certificate-new": Role.ADMINISTRATOR,
    "certificate-change": Role.ADMINISTRATOR,
    "forecasts": Role.SUPERVISOR,
    "turnouts": Role.ENGINEER,
    "turnout": Role.ENGINEER,
    "turnout-change": Role.ENGINEER,
    "install": Role.ENGINEER,
    "report": Role.INSPECTOR,
    "inspection": Role.INSPECTOR,
    "components": Role.ENGINEER,
    "component": Role.ENGINEER,
    "reviews": Role.ENGINEER,
    "review": Role.ENGINEER,
    "network": Role.SUPERVISOR,
    "families": Role.ENGINEER,
    "repeat-offenders": Role.ENGINEER,
    "early-warnings": Role.ENGINEER,
    "component-why": Role.ENGINEER,
    "weld-or-replace": Role.ENGINEER,
    "forecast-record": Role.ENGINEER,
    "component-remove": Role.ENGINEER,
    "component-to-shop": Role.ENGINEER,
    "component-from-shop": Role.ENGINEER,
    "defect-record": Role.INSPECTOR,
    "import": Role.INSPECTOR,
    "import-run": Role.INSPECTOR,
    "export": Role.INSPECTOR,
    "export-run": Role.INSPECTOR,
    "people": Role.ADMINISTRATOR,
    "person": Role.ADMINISTRATOR,
}
"""Every page somebody reads, and who of those that may reads it here."""

CONTRAST = "color-contrast"
"""The one rule that the colours alone decide; the others, the layout."""

NO_SCREEN = {
    "rule": "looked at in tests/repairs/pages/test_rules_in_a_browser.py",
    "rule-propose": "looked at in tests/repairs/pages/test_rules_in_a_browser.py",
    "rule-set-change": "looked at in tests/repairs/pages/test_rules_in_a_browser.py",
    "procedure-propose": "looked at in tests/repairs/pages/test_procedures_in_a_browser.py",
    "own-edition": "looked at in tests/repairs/pages/test_procedures_in_a_browser.py",
    "own-edition-preview": "posted",
    "own-edition-answer": "posted",
    "territory-sets": "posted",
    "rule-set-preview": "posted",
    "rule-set-answer": "posted",
    "rule-preview": "posted",
    "rule-answer": "posted",
    "overruling-csv": "a file",
    "defects-csv": "a file",
    "home": "leads on",
    "this-week": "leads on",
    "run": "a piece of a page",
    "photograph": "a picture",
    "export-file": "a file",
    "job-sheet-paper": "a PDF",
    "load-out-paper": "a PDF",
    "trackside-worker": "a script",
    "job-sheet-record-file": "a file",
    "job-sheet-record-paper": "a PDF",
    "forecasts-csv": "a file",
    "component-wear-csv": "a file",
    "review-file": "a PDF",
    "network-csv": "a file",
    "families-looks-csv": "a file",
    "families-steps-csv": "a file",
    "repeat-offenders-csv": "a file",
    "repeat-pareto-csv": "a file",
    "early-warnings-csv": "a file",
    "look-ahead": "posted",
    "forecast-record-csv": "a file",
    "weld-or-replace-csv": "a file",
    "break-even-csv": "a file",
    "component-defects-csv": "a file",
    "job-sheet-sign": "posted",
    "job-sheet-correct": "posted",
    "let-start": "posted",
    "certificate-picture-add": "posted",
    "certificate-picture": "a picture",
    "restriction-confirm": "posted",
    "answer-closing": "posted",
    "field-picture": "a picture",
    "photograph-add": "posted",
    "import-accept": "posted",
    "person-active": "posted",
    "revoke": "posted",
    "judge-defects": "posted",
    "make-jobs": "posted",
    "defect-judge": "posted",
    "defect-confirm": "posted",
    "job-ways": "posted",
    "fit-cooling": "posted",
    "propose-cooling": "posted",
    "answer-cooling": "posted",
    "preview-cooling": "posted",
    "job-estimate": "posted",
    "ask-for-plan": "posted",
    "place-job": "posted",
    "take-out-job": "posted",
    "lock-job": "posted",
    "order-job": "posted",
    "stop-planning": "posted",
    "stop-week-what-if": "posted",
    "stop-network": "posted",
    "renew-calendar": "posted",
    "crew-feed": "a calendar, for phones",
    "publish-plan": "posted",
    "draft-week-what-if": "posted",
    "ask-for-network": "posted",
    "this-network": "leads on",
    "logout": "posted",
    "health-live": "for the container",
    "health-ready": "for the container",
    "api-schema": "for programs",
    "api-docs": "not ours: drf-spectacular's",
}


def names(resolver: Any) -> Iterator[str]:
    """The names of all addresses outside the API and the admin."""
    for part in resolver.url_patterns:
        if isinstance(part, URLPattern):
            yield str(part.name)
        elif isinstance(part, URLResolver) and not str(part.pattern):
            yield from names(part)


def test_every_address_is_a_screen_here_or_said_not_to_be_one() -> None:
    assert set(names(get_resolver())) == set(SCREENS) | set(NO_SCREEN)


@pytest.fixture(scope="module")
def here(db: None) -> District:
    """A week published in a district whose first frog has been somewhere else before."""
    made = district()
    railway.grant(made.people[Role.ADMINISTRATOR], Role.ADMINISTRATOR)  # of the whole railway
    _earlier_life(made.frogs[0], made)
    _after_a_night(made)
    waiting_jobs(made, "11/16")
    published_week(made)
    picture = BytesIO()
    Image.new("RGB", (320, 200), "sienna").save(picture, "JPEG")
    picture.seek(0)
    inspector = made.people[Role.INSPECTOR]
    add_photograph(by=inspector, defect=_defect(made), upload=picture, caption="The spall")
    return made


def _earlier_life(frog: Component, here: District) -> None:
    """Another turnout until 2019, a stay in the shop, and five years of readings."""
    before = railway.turnout(here.track, mile="2")
    out = railway.SINCE - timedelta(days=90)
    railway.install(
        frog, before, installed_on=date(2015, 5, 4), removed_on=out, reason_removed="Worn"
    )
    ShopVisit.objects.create(
        component=frog,
        shop="Own shop",
        arrived_on=out,
        left_on=railway.SINCE - timedelta(days=9),
        work="Point rebuilt",
    )
    for year in range(5):
        at = railway.VISIT - timedelta(days=365 * (5 - year))
        visit = railway.inspection(here.spots[0], here.people[Role.INSPECTOR], inspected_at=at)
        railway.measurement(visit, Quantity.TREAD_WEAR, str(1 + year), frog, behind_point_mm=300)
        railway.defect(frog, visit, state="closed")


def _after_a_night(here: District) -> None:
    """A repeat offender among frogs that are none, and a warning."""
    today = railway.VISIT.date()
    for place, (spot, frog) in enumerate(zip(here.spots, here.frogs, strict=True)):
        ComponentRank.objects.create(
            component=frog,
            turnout=spot,
            family="Frog, rail bound manganese, manganese",
            events=9 - 4 * place,
            expected=2.5,
            relative=2.4 - place,
            low=1.4 - 0.6 * place,
            high=3.6 - place,
            chance_worse=0.97 - 0.4 * place,
            chance_twice=0.6 - 0.2 * place,
            repeat_offender=place == 0,
            made_on=today,
        )
    EarlyWarning.objects.create(
        component=here.frogs[0],
        turnout=here.spots[0],
        quantity=Quantity.TREAD_WEAR.value,
        clause="49 CFR 213.137(c)",
        limit_mm="9.525",
        least=False,
        next_look_on=today,
        chance_now=0.2,
        chance=0.6,
        level_mm=9.7,
        readings=8,
        made_on=today,
        stands_on=today,
    )


def _defect(here: District) -> Defect:
    return Defect.objects.get(reference=f"D-{here.spots[0].code}")


def _spare(in_shop: bool) -> Component:
    """A frog out of track."""
    frog = railway.component()
    if in_shop:
        ShopVisit.objects.create(
            component=frog, shop="Own shop", arrived_on=railway.SINCE, work="Point rebuilt"
        )
    return frog


def _reviewed(here: District) -> LongRun:
    """A review that is ready."""
    run = request_review(
        by=here.people[Role.ENGINEER],
        territory=here.territory,
        since=railway.VISIT.date() - timedelta(days=365),
        until=railway.VISIT.date(),
        request_key="looked-at",
    )
    return carry_out(
        run_id=run.pk, work=lambda one, tell: carry_out_review(one, tell, review_paper)
    )


def _with_bad_rows(here: District) -> LongRun:
    """A look at a file with one row that can be taken and two that cannot."""
    sheets = spalled_points(here)
    for row, spoiled in ((1, "six"), (2, "-3")):
        sheets["defects"][row][5] = spoiled
    sheets["defects"][3][0] += "-NEW"
    return looked_at(here.people[Role.INSPECTOR], as_workbook(sheets))


@pytest.fixture(scope="module")
def addresses(here: District) -> dict[str, str]:
    """Where each screen is, with as much on it as the district has."""
    spot, frog, spall = here.spots[0], here.frogs[0], _defect(here)
    plan = WeekPlan.objects.get(territory=here.territory)
    arguments: dict[str, list[Any]] = {
        "week": [here.territory.code, here.monday],
        "move-job": [plan.pk, RepairJob.objects.get(turnout=spot).reference],
        "compare-plans": [here.territory.code, here.monday],
        "load-out": [plan.pk],
        "ask-week-what-if": [plan.pk],
        "network-week": [here.monday],
        "week-what-if": [asked_about(plan).pk],
        "defect": [spall.reference],
        "defect-record": [spall.reference],
        "what-if": [spall.reference],
        "defect-overrule": [spall.reference],
        "procedure": ["manganese-wire"],
        "job": [RepairJob.objects.get(turnout=spot).reference],
        "job-try": [RepairJob.objects.get(turnout=spot).reference],
        "job-sheet": [JobSheet.objects.get(job__turnout=spot).number],
        "job-sheet-work": [JobSheet.objects.get(job__turnout=spot).number],
        "job-sheet-record": [JobSheet.objects.get(job__turnout=spot).number],
        "put-right": [*_entry(JobSheet.objects.get(job__turnout=spot), here)],
        "paper-entry": [JobSheet.objects.get(job__turnout=spot).number],
        "certificates-of": [here.people[Role.WELDER].username],
        "certificate": [_certificate(here)],
        "certificate-new": [here.people[Role.WELDER].username],
        "certificate-change": [_certificate(here)],
        "inspection": [Inspection.objects.get(defects=spall).reference],
        "component": [frog.serial],
        "component-why": [frog.serial],
        "weld-or-replace": [frog.serial],
        "component-remove": [frog.serial],
        "component-to-shop": [_spare(in_shop=False).serial],
        "component-from-shop": [_spare(in_shop=True).serial],
        "import-run": [_with_bad_rows(here).pk],
        "export-run": [taken_out(here.people[Role.INSPECTOR]).pk],
        "review": [_reviewed(here).pk],
        "person": [here.people[Role.WELDER].username],
    }
    at_a_turnout = ("turnout", "turnout-change", "install", "report")
    arguments |= {name: [spot.code] for name in at_a_turnout}
    found = {name: reverse(name, args=arguments.get(name)) for name in SCREENS}
    found["certificate-new"] += "?procedure=carbon-stick"
    return found


def _entry(sheet: JobSheet, here: District) -> tuple[str, str]:
    """A temperature entered on a sheet: the sheet's number, and the entry's id."""
    night = Night(sheet)
    zone = night.facts.zones[0].key
    made = night.tap("pass_temperature", 30, zone=zone, degc=90, place_mm=25)
    assert night.send(here.people[Role.SUPERVISOR]).refused == []
    return sheet.number, made


def _certificate(here: District) -> int:
    """One with a picture of its plate."""
    row = here.people[Role.WELDER].qualifications.get(procedure="manganese-wire")
    if not row.pictures.exists():
        plate = BytesIO()
        Image.new("RGB", (320, 200), "slategray").save(plate, "PNG")
        keeper = here.people[Role.ADMINISTRATOR]
        add_proof_picture(by=keeper, certificate=row, proof="plate", upload=plate, at=railway.VISIT)
    return int(row.pk)


@pytest.mark.parametrize("screen", SCREENS)
def test_everybody_can_read_it_at_the_desk_on_a_phone_and_in_the_dark(
    enter: Enter, here: District, addresses: dict[str, str], screen: str
) -> None:
    role = SCREENS[screen]
    page = enter(here.people[role] if role else None, addresses[screen], DESK)
    assert page.url.endswith(addresses[screen])
    _open_all(page)
    assert not wider_than_its_screen(page)
    assert grave_faults(page) == []
    page.set_viewport_size(PHONE)
    assert not wider_than_its_screen(page)
    assert grave_faults(page, {"rules": {CONTRAST: {"enabled": False}}}) == []
    page.emulate_media(color_scheme="dark")
    assert grave_faults(page, {"runOnly": [CONTRAST]}) == []


def _open_all(page: Page) -> None:
    """What is folded away is looked at as well."""
    page.evaluate("document.querySelectorAll('details').forEach(it => { it.open = true })")
