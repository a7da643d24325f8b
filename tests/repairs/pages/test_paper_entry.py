"""A paper sheet typed in at the office makes the same record as a phone at the trackside."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from repairs.field.events import BrokenOff, TrackState
from repairs.field.state import About, Phase, Proof
from repairs.models import FieldEvent, JobSheet, RepairJob
from repairs.services.field_records import sign_record
from repairs.services.field_rows import facts_of, field_state
from tests import railway
from tests.repairs import rows
from tests.repairs.trackside import GOOD_MM
from turnouts.analysis.terms import Quantity
from turnouts.models import Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def sheet() -> JobSheet:
    return rows.sheet()


@pytest.fixture
def supervisor(sheet: JobSheet) -> Person:
    return railway.person("supervisor", sheet.job.turnout.territory)


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def address(sheet: JobSheet) -> str:
    return f"/sheets/{sheet.number}/paper-entry/"


def clock(minute: int) -> str:
    """A time of the night, minutes after 22:15: past midnight it begins at 00:00 again."""
    minute += 22 * 60 + 15
    return f"{minute // 60 % 24:02}:{minute % 60:02}"


def whole(sheet: JobSheet) -> dict[str, str]:
    """Every box of a night that went well, each stage 20 minutes and the penetrant 30."""
    facts = facts_of(sheet)
    given = {
        "worked_by": sheet.people.get().username,
        "started": clock(0),
        "briefing": clock(0),
        "surface": "20 degC",
        "clean": "on",
        "state": "restored",
        "qualified": "Ada Lund",
        "used carbons": "4.5",
        "penetrant wiped": "",
    }
    minute, reading = 0, 0
    for stage in facts.stages:
        if stage.kind == "layer":
            given.setdefault(f"carbon {stage.zone}", clock(minute))
            reading += 1
            given |= {
                f"pass {reading} at": clock(minute),
                f"pass {reading} zone": stage.zone,
                f"pass {reading} degc": "90 degC",
                f"pass {reading} place": "25 mm",
            }
        if stage.kind == "penetrant":
            for step, after in (("applied", 0), ("wiped", 12), ("developed", 13), ("read", 28)):
                given[f"penetrant {step}"] = clock(minute + after)
        given[f"begun {stage.key}"] = clock(minute)
        minute += 30 if stage.kind == "penetrant" else 20
        given[f"ended {stage.key}"] = clock(minute)
    given["back"] = clock(minute)
    for limit in facts.limits:
        if limit.quantity:
            given[f"final {limit.quantity.value}"] = f"{GOOD_MM[limit.quantity.value]} mm"
    return given


def posted(person: Person, sheet: JobSheet, given: dict[str, str]) -> Any:
    return client(person).post(address(sheet), given)


def test_a_paper_sheet_makes_a_whole_record(sheet: JobSheet, supervisor: Person) -> None:
    answer = posted(supervisor, sheet, whole(sheet))
    assert answer.status_code == 302, answer.content.decode()
    state = field_state(sheet)
    assert [one.sentence for one in state.deviations] == []
    assert (state.phase, state.proof, state.failed) == (Phase.HANDED_BACK, Proof.CLEAN, ())
    assert str(state.materials["carbons"]) == "4.5"
    kept = FieldEvent.objects.filter(sheet=sheet)
    assert {row.entered_from for row in kept} == {"paper"}
    assert {row.by for row in kept} == {supervisor}
    # The night goes past midnight: no stage lasts a day.
    assert max(s.took_min for s in state.stages if s.took_min is not None) == 30


def test_typing_it_twice_enters_it_once(sheet: JobSheet, supervisor: Person) -> None:
    given = whole(sheet)
    posted(supervisor, sheet, given)
    before = list(FieldEvent.objects.order_by("pk").values_list("pk", "sha256"))
    assert posted(supervisor, sheet, given).status_code == 302
    assert list(FieldEvent.objects.order_by("pk").values_list("pk", "sha256")) == before


def test_what_was_left_empty_can_be_entered_later(sheet: JobSheet, supervisor: Person) -> None:
    given = whole(sheet)
    late = given.pop("used carbons")
    posted(supervisor, sheet, given)
    before = FieldEvent.objects.count()
    posted(supervisor, sheet, given | {"used carbons": late})
    assert FieldEvent.objects.count() == before + 1


@pytest.mark.parametrize(
    ("box", "value"), [("back", "05:59"), ("used carbons", "5"), ("qualified", "Bo Lind")]
)
def test_another_word_in_the_same_box_is_not_written_over(
    sheet: JobSheet, supervisor: Person, box: str, value: str
) -> None:
    given = whole(sheet)
    posted(supervisor, sheet, given)
    before = FieldEvent.objects.count()
    answer = posted(supervisor, sheet, given | {box: value})
    assert answer.status_code == 409
    assert "was entered from paper already" in answer.content.decode()
    assert FieldEvent.objects.count() == before


@pytest.mark.parametrize(
    ("spoiled", "sentence"),
    [
        ({"pass 1 degc": "ninety"}, "ninety"),
        ({"pass 1 degc": ""}, "Fill this in too"),
        ({"qualified": ""}, "Fill this in too"),
        ({"shown 1 shape": "linear", "shown 1 length": "3 mm"}, "only one of both"),
    ],
)
def test_a_box_that_makes_no_sense_enters_nothing(
    sheet: JobSheet, supervisor: Person, spoiled: dict[str, str], sentence: str
) -> None:
    answer = posted(supervisor, sheet, whole(sheet) | spoiled)
    assert answer.status_code == 400
    assert sentence in answer.content.decode()
    assert not FieldEvent.objects.exists()


def test_whoever_led_the_work_must_have_been_allowed_to_start_it() -> None:
    job = rows.job()
    helper = railway.person("welder", job.turnout.territory)
    leader = rows.welder(job)
    sheet = rows.sheet(job, people=[leader, helper])
    boss = railway.person("supervisor", job.turnout.territory)
    given = {"worked_by": helper.username, "started": clock(0)}
    answer = posted(boss, sheet, given)
    assert answer.status_code == 400
    assert "is not qualified for" in answer.content.decode()
    assert not FieldEvent.objects.exists()
    assert posted(boss, sheet, given | {"worked_by": leader.username}).status_code == 302


def test_only_those_on_the_sheet_and_supervisors_may_type_it(sheet: JobSheet) -> None:
    territory = sheet.job.turnout.territory
    assert client(sheet.people.get()).get(address(sheet)).status_code == 200
    for role in ("welder", "engineer", "inspector", "administrator"):
        assert client(railway.person(role, territory)).get(address(sheet)).status_code == 403
    other = client(railway.person("supervisor", railway.territory()))
    assert other.get(address(sheet)).status_code == 404


def test_nothing_filled_in_is_said(sheet: JobSheet, supervisor: Person) -> None:
    answer = posted(supervisor, sheet, {"worked_by": sheet.people.get().username})
    assert answer.status_code == 400
    assert "Nothing is filled in" in answer.content.decode()


def test_a_box_is_put_right_for_a_reason_once_and_both_stand(
    sheet: JobSheet, supervisor: Person
) -> None:
    given = whole(sheet)
    posted(supervisor, sheet, given)
    before = FieldEvent.objects.count()
    right = given | {"used carbons": "5", "begun briefing": "22:20", "why": "Read as 4.5"}
    for _ in range(2):
        assert posted(supervisor, sheet, right).status_code == 302
        assert FieldEvent.objects.count() == before + 2
    state = field_state(sheet)
    assert str(state.materials["carbons"]) == "5"
    assert state.stages[0].took_min == 15
    assert {one.reason for one in state.corrections} == {"Read as 4.5"}
    assert posted(supervisor, sheet, given | {"why": "It was 4.5"}).status_code == 302
    assert str(field_state(sheet).materials["carbons"]) == "4.5"


def test_a_job_broken_off_on_paper_leaves_its_state_and_a_job_for_the_rest(
    sheet: JobSheet, supervisor: Person
) -> None:
    gouging = next(one for one in facts_of(sheet).stages if one.kind == "gouging")
    given = {
        "worked_by": sheet.people.get().username,
        "started": clock(0),
        "briefing": clock(1),
        f"begun {gouging.key}": clock(20),
        "off": clock(45),
        "off state": "open",
        "off why": "The generator failed",
    }
    assert posted(supervisor, sheet, given).status_code == 302
    state = field_state(sheet)
    assert (state.phase, state.track) == (Phase.BROKEN_OFF, TrackState.OPEN)
    assert state.broken_off == BrokenOff("The generator failed", TrackState.OPEN)
    assert About.TRACK not in {one.about for one in state.deviations}
    sign_record(by=supervisor, sheet=sheet, statement="", at=rows.NIGHT + timedelta(hours=9))
    rest = RepairJob.objects.get(follows=sheet.job)
    assert (rest.state, rest.treats.get().defect) == ("estimated", sheet.job.treats.get().defect)
    assert posted(supervisor, sheet, given).status_code == 302
    assert RepairJob.objects.filter(follows=sheet.job).count() == 1


def test_broken_off_in_another_state_than_the_stages_show_is_said(
    sheet: JobSheet, supervisor: Person
) -> None:
    gouging = next(one for one in facts_of(sheet).stages if one.kind == "gouging")
    given = {
        "worked_by": sheet.people.get().username,
        "started": clock(0),
        f"begun {gouging.key}": clock(20),
        "off": clock(45),
        "off state": "as_found",
        "off why": "Rain",
    }
    posted(supervisor, sheet, given)
    said = [one.sentence for one in field_state(sheet).deviations if one.about is About.TRACK]
    assert said == [
        "The job was broken off with the track said to be as found; by the entries it is open."
    ]


@pytest.mark.parametrize("missing", ["off", "off state", "off why"])
def test_breaking_off_takes_time_state_and_reason_together(
    sheet: JobSheet, supervisor: Person, missing: str
) -> None:
    given = {
        "worked_by": sheet.people.get().username,
        "started": clock(0),
        "off": clock(45),
        "off state": "as_found",
        "off why": "Rain",
    }
    answer = posted(supervisor, sheet, given | {missing: ""})
    assert answer.status_code == 400
    assert "Fill this in too" in answer.content.decode()
    assert not FieldEvent.objects.exists()


def test_the_raised_guard_is_gaged_on_paper_where_the_point_alone_is_worked() -> None:
    defect = rows.spalled_point()
    defect.component.design = "self_guarded_manganese"
    defect.component.save()
    railway.measurement(defect.inspection, Quantity.RAISED_GUARD_WEAR, "4", defect.component)
    job = rows.job(defect)
    sheet = rows.sheet(job)
    boss = railway.person("supervisor", job.turnout.territory)
    first = next(s for s in facts_of(sheet).stages if s.zone)
    given = {
        "worked_by": sheet.people.get().username,
        "started": clock(0),
        "briefing": clock(0),
        f"begun {first.key}": clock(20),
    }
    assert posted(boss, sheet, given).status_code == 302
    waits = [one for one in field_state(sheet).hold_points if one.key == "guard_gaged"]
    assert [one.passed_at for one in waits] == [None]
    half = posted(boss, sheet, given | {"gaged": clock(10)})
    assert half.status_code == 400
    gaged = given | {"gaged": clock(10), "gaged wear": "3 mm"}
    assert posted(boss, sheet, gaged).status_code == 302
    state = field_state(sheet)
    (hold,) = [one for one in state.hold_points if one.key == "guard_gaged"]
    assert hold.passed_at is not None
    assert About.HOLD_POINT not in {one.about for one in state.deviations}


def test_other_sheets_have_no_box_for_the_raised_guard(sheet: JobSheet, supervisor: Person) -> None:
    assert "Raised guard gaged" not in client(supervisor).get(address(sheet)).content.decode()
