"""The working page of a job sheet, with the network really cut and the page closed and reopened."""

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import ROUND_FLOOR, Decimal
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from repairs.field.clock import clock, left_stages
from repairs.field.events import Event, Indication, Kind, Shape, TrackState, read_data
from repairs.field.indications import judge, longest_mm
from repairs.field.reduce import state_of
from repairs.models import FieldEvent
from repairs.services.acceptance import accepted_at
from repairs.services.estimates import worked_out
from repairs.services.field_rows import facts_of
from repairs.services.job_sheets import withdraw_job_sheet
from repairs.services.jobs import work_of
from repairs.welding.heat.run_result import wait_from
from tests.browser.conftest import Enter
from tests.browser.looking import PHONE, log_in, sound
from tests.browser.trackside import TEST, at_the_office, begin, done, issued, kinds, opened
from tests.repairs.trackside import GOOD_MM
from turnouts.analysis.terms import Role

pytestmark = pytest.mark.usefixtures("db")


def test_taps_made_with_no_signal_reach_the_office_once_and_in_order(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    sound(page)
    page.context.set_offline(True)
    page.reload()

    begin(page)
    for _ in ("briefing", "travel in", "measuring"):
        done(page)
    # A tap is on disk once the page answers it; closed before that, it was never said to be safe.
    expect(page.get_by_role("button", name="Start gouging")).to_be_visible()
    expect(page.locator("#signal")).to_contain_text("8 entries are safe on this phone")
    assert kinds(sheet) == []

    page.close()
    again = page.context.new_page()
    again.goto(f"/sheets/{sheet.number}/work/")
    expect(again.get_by_role("button", name="Start gouging")).to_be_visible()
    again.context.set_offline(False)
    at_the_office(again)
    assert kinds(sheet) == [
        "briefing", "started",
        "stage_started", "stage_ended", "stage_started", "stage_ended", "stage_started",
        "stage_ended",
    ]  # fmt: skip


def test_the_second_tap_of_a_gloved_hand_does_not_end_the_next_step_too(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    begin(page)
    button = page.get_by_role("button", name="Done")
    button.click(trial=True)  # waits until it has rested, and brings it into view
    place = button.bounding_box()
    assert place is not None
    middle = place["x"] + place["width"] / 2, place["y"] + place["height"] / 2
    page.mouse.dblclick(*middle)
    expect(page.get_by_role("heading", name="Travel in to the frog")).to_be_visible()
    page.mouse.click(*middle)
    expect(button).to_be_enabled()
    at_the_office(page)
    assert kinds(sheet).count("stage_ended") == 1


def keys_done(page: Page) -> list[str]:
    """The stages as this phone shows them, each with what is said of it."""
    page.locator("#whole").evaluate("whole => { whole.open = true; }")
    return page.locator("#stages li").all_inner_texts()


def test_two_phones_on_one_job_come_to_the_same_record(enter: Enter) -> None:
    here, sheet = issued()
    one, other = opened(enter, here, sheet), opened(enter, here, sheet)
    begin(one)
    at_the_office(one)
    other.reload()
    expect(other.get_by_role("button", name="Done")).to_be_visible()
    for page in (one, other):
        page.context.set_offline(True)
        page.get_by_text("Note", exact=True).click()
        page.get_by_label("Note", exact=True).fill("rain begins")
        page.get_by_role("button", name="Write down").first.click()
    done(one)
    done(other)
    for page in (one, other):
        expect(page.locator("#signal")).to_contain_text("3 entries are safe on this phone")
        page.context.set_offline(False)
        at_the_office(page)
    one.reload()
    at_the_office(one)
    assert keys_done(one) == keys_done(other)
    assert kinds(sheet).count("note") == 2
    assert kinds(sheet).count("stage_ended") == 2


def test_a_login_that_ran_out_loses_nothing_and_is_asked_for_again(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    page.context.clear_cookies()
    begin(page)
    expect(page.locator("#signal")).to_contain_text("Log in again to send")
    assert kinds(sheet) == []

    page.get_by_role("link", name="Log in again").click()
    log_in(page, here.people[Role.WELDER])
    at_the_office(page)
    assert kinds(sheet) == ["briefing", "started", "stage_started"]


def test_somebody_else_on_the_same_phone_does_not_send_what_the_welder_tapped(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    page.context.set_offline(True)
    begin(page)
    page.context.clear_cookies()
    page.context.set_offline(False)
    page.goto("/login/")
    log_in(page, here.people[Role.SUPERVISOR])
    page.goto(f"/sheets/{sheet.number}/work/")
    welder = here.people[Role.WELDER].username
    expect(page.locator("#signal")).to_contain_text(f"{welder} must log in on this phone")
    assert kinds(sheet) == []


def test_a_phone_with_a_wrong_clock_writes_down_the_right_time(enter: Enter) -> None:
    here, sheet = issued()
    page = enter(here.people[Role.WELDER], "/", PHONE)
    page.clock.install(time=timezone.now() - timedelta(minutes=20))
    page.goto(f"/sheets/{sheet.number}/work/")
    at_the_office(page)
    expect(page.locator("#signal")).to_contain_text("clock is 20 min slow")
    begin(page)
    at_the_office(page)
    written = FieldEvent.objects.filter(sheet=sheet).latest("seq")
    assert abs(written.at - timezone.now()) < timedelta(minutes=2)
    assert timezone.now() - written.phone_at > timedelta(minutes=18)


def test_a_sheet_withdrawn_meanwhile_says_so_and_keeps_what_was_tapped(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    page.context.set_offline(True)
    begin(page)
    withdraw_job_sheet(by=here.people[Role.SUPERVISOR], sheet=sheet, at=timezone.now())
    page.context.set_offline(False)
    expect(page.get_by_text("This sheet was withdrawn. Do not work by it")).to_be_visible()
    assert "started" in kinds(sheet) or page.locator("#log .refused").count()


STORY = [
    ("briefing", {"points": [1, 2]}, 0),
    ("started", {}, 1),
    ("stage_started", {"stage": "briefing"}, 1),
    ("stage_ended", {"stage": "briefing", "interrupted": False}, 14),
    ("stage_started", {"stage": "travel_in"}, 14),
    ("stage_ended", {"stage": "travel_in", "interrupted": False}, 15),
    ("stage_started", {"stage": "measuring"}, 15),
    ("stage_ended", {"stage": "measuring", "interrupted": True}, 22),
    ("stage_started", {"stage": "measuring"}, 30),
    ("stage_ended", {"stage": "measuring", "interrupted": False}, 36),
    ("stage_started", {"stage": "1-point.gouging"}, 37),
    ("stage_ended", {"stage": "1-point.gouging", "interrupted": False}, 44),
    ("stage_started", {"stage": "1-point.dam_blocks"}, 50),
]
"""What happened, so many minutes after the job began; nobody wrote carbon grinding down."""

READ = """
async ([address, events, now, handBack]) => {
  const job = await (await fetch(address)).json();
  job.hand_back_at = handBack;
  const told = events.map((one) => ({...one, at: Date.parse(one.at)}));
  const state = trackside.state.of(job.stages, told);
  const clock = trackside.clock.read(job, state, Date.parse(now));
  return {
    stages: Object.fromEntries(job.stages.map(({key}) => [key, state.stages[key].state])),
    left: state.left.map((stage) => stage.key),
    open: trackside.clock.openZone(job, state),
    chance: clock.chance, under: clock.under, advice: clock.advice,
    last: Object.fromEntries(clock.stages.map((row) => [row.stage.key, row.last])),
  };
}
"""


@pytest.mark.parametrize("told", range(0, len(STORY) + 1, 2))
def test_the_phones_clock_and_the_offices_are_one(enter: Enter, told: int) -> None:
    here, sheet = issued()
    page = enter(here.people[Role.WELDER], f"/sheets/{sheet.number}/work/", PHONE)
    facts = facts_of(sheet)
    began = facts.starts_at + timedelta(minutes=7)
    now = began + timedelta(minutes=STORY[told - 1][2] + 3 if told else 0)
    made = [told_event(kind, data, began + timedelta(minutes=m), n) for n, (kind, data, m) in
            enumerate(STORY[:told])]  # fmt: skip
    state = state_of(facts, made)
    for minutes in (20, 95, 150, 190, 300):
        end = now + timedelta(minutes=minutes)
        office = clock(replace(facts, hand_back_at=end), state, now)
        events = [
            {"id": e.id, "device": e.device, "seq": e.seq, "kind": e.kind.value,
             "at": e.at.isoformat(), "data": STORY[n][1]} for n, e in enumerate(made)
        ]  # fmt: skip
        address = f"/api/job-sheets/{sheet.number}/work/"
        phone = page.evaluate(READ, [address, events, now.isoformat(), end.isoformat()])
        assert phone["stages"] == {one.key: one.state.value for one in state.stages}
        assert phone["left"] == [one.key for one in left_stages(facts, state)]
        assert phone["open"] == (state.track is TrackState.OPEN)
        assert phone["chance"] == pytest.approx(office.chance, abs=1e-9)
        assert phone["under"] == office.under
        assert office.advice.endswith(phone["advice"])
        assert bool(phone["advice"]) == bool(office.advice)
        for one in office.stages:
            assert phone["last"][one.key] / 1000 == pytest.approx(
                one.last_start_at.timestamp(), abs=1
            )


WAITS = """
async ([address, key, readings]) => {
  const job = await (await fetch(address)).json();
  const stage = job.stages.find((one) => one.key === key);
  return readings.map((degc) => trackside.clock.waitFrom(job.sheet.content.cooling, stage, degc));
}
"""


def test_the_wait_the_phone_says_is_that_of_the_heat_forecast(enter: Enter) -> None:
    here, sheet = issued()
    page = enter(here.people[Role.WELDER], f"/sheets/{sheet.number}/work/", PHONE)
    job = sheet.job
    run = worked_out(work_of(job), job.procedure, timezone.localdate()).heat
    assert run is not None
    readings = [200.0, 259.9, 260.0, 260.1, 275.0, 320.0, 450.0]
    address = f"/api/job-sheets/{sheet.number}/work/"
    phone = page.evaluate(WAITS, [address, "1-point.layer-02", readings])
    assert phone == pytest.approx([wait_from(run, "1-point", 2, t) for t in readings], abs=1e-6)
    assert phone[:3] == [0, 0, 0]
    assert phone[3] > 0


def told_event(kind: str, data: dict[str, Any], at: datetime, seq: int) -> Event:
    what = Kind(kind)
    return Event(f"e{seq:02}", "phone", seq, what, at, "welder", read_data(what, data))


TRACK_NOW = """
async ([address, events]) => {
  const job = await (await fetch(address)).json();
  const told = events.map((one) => ({...one, at: Date.parse(one.at)}));
  return trackside.records.trackNow({job, state: trackside.state.of(job.stages, told)});
}
"""


@pytest.mark.parametrize(
    ("last", "state"),
    [
        ([], "restored"),
        ([("indication", {"zone": "1-point", "shape": "linear", "length_mm": 2})], "closed"),
        ([("measurement", {"quantity": "flangeway_depth", "value_mm": 20})], "closed"),
        (
            [
                ("indication", {"zone": "1-point", "shape": "linear", "length_mm": 2}),
                *TEST,
                ("penetrant_clean", {}),
            ],
            "restored",
        ),
        ([*(one for one in TEST if one[0] == "penetrant"), ("penetrant_clean", {})], "closed"),
    ],
)
def test_the_phone_calls_the_track_restored_only_when_it_is_proved(
    enter: Enter, last: list[tuple[str, dict[str, Any]]], state: str
) -> None:
    here, sheet = issued()
    page = enter(here.people[Role.WELDER], f"/sheets/{sheet.number}/work/", PHONE)
    facts = facts_of(sheet)
    kinds_of = ("stage_started", "stage_ended")
    story = [(kind, {"stage": stage.key}) for stage in facts.stages for kind in kinds_of]
    story += TEST
    asked = dict.fromkeys(one.quantity.value for one in facts.limits if one.quantity)
    story += [("measurement", {"quantity": q, "value_mm": GOOD_MM[q]}) for q in asked]
    story += [("penetrant_clean", {}), *last]
    events = [
        {"id": f"e{n:03}", "device": "phone", "seq": n, "kind": kind, "data": data,
         "at": (facts.starts_at + timedelta(minutes=n)).isoformat()}
        for n, (kind, data) in enumerate(story)
    ]  # fmt: skip
    address = f"/api/job-sheets/{sheet.number}/work/"
    assert page.evaluate(TRACK_NOW, [address, events]) == state


ACCEPTED = """
([shown, rules]) => shown.map((data) => trackside.penetrant.accepted({data}, rules))
"""


@pytest.mark.parametrize("level", ["none", "1", "2X", "3X"])
def test_the_phone_accepts_what_the_office_accepts_at_each_level(enter: Enter, level: str) -> None:
    here, sheet = issued()
    page = enter(here.people[Role.WELDER], f"/sheets/{sheet.number}/work/", PHONE)
    limits = {longest_mm()[(level, shape)] for shape in Shape} if level != "none" else {Decimal(4)}
    shown = [
        Indication("1-point", shape, limit + past, width)
        for shape in Shape
        for limit in limits
        for past in (Decimal(0), Decimal("0.1"))
        for width in (None, limit, (limit / 3).quantize(Decimal("0.01"), ROUND_FLOOR))
    ]
    shown += [Indication("1-point", Shape.ROUNDED, Decimal("2.1"), Decimal("0.7"))]  # just three
    said = [
        {"shape": one.shape.value, "length_mm": str(one.length_mm)}
        | ({} if one.width_mm is None else {"width_mm": str(one.width_mm)})
        for one in shown
    ]
    answers = page.evaluate(ACCEPTED, [said, accepted_at(level)])
    assert answers == [judge(one, level).accepted for one in shown]
    assert any(answers) == (level != "none")
    assert not all(answers)


def test_a_job_broken_off_before_the_first_cut_is_handed_back_from_the_phone(enter: Enter) -> None:
    here, sheet = issued()
    page = opened(enter, here, sheet)
    begin(page)
    page.get_by_text("Work has to stop").click()
    page.get_by_label("Why work stops").fill("Thunderstorm")
    page.get_by_role("button", name="Break the job off").click()
    expect(page.get_by_role("heading", name="Broken off at")).to_be_visible()
    page.get_by_label("Speed over the turnout").fill("class speed")
    page.get_by_label("Qualified person who said so").fill("Ada Lund")
    page.get_by_role("button", name="Handed back now").click()
    expect(page.get_by_role("heading", name="Handed back at")).to_be_visible()
    at_the_office(page)
    back = FieldEvent.objects.get(sheet=sheet, kind="handed_back")
    assert (back.data["state"], "speed_kmh" in back.data) == ("as_found", False)
    assert FieldEvent.objects.get(sheet=sheet, kind="broken_off").data["state"] == "as_found"
