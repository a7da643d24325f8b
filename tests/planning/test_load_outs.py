"""What is loaded: whole packs by truck and day; what is used again is not loaded twice."""

from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client

from planning.models import WeekPlan
from planning.paper.load_out import load_out_paper, said
from planning.services.load_outs import load_out_of
from planning.services.publish import publish_plan
from tests import railway, track_time
from tests.planning.conftest import SmallWeek
from tests.repairs.services.test_paper import pages
from tests.track_time import PROCEDURE, at
from turnouts.analysis.showing import METRIC, US
from turnouts.services.errors import Refused


@dataclass
class Loaded:
    """The one truck's one day of the small week, by material, and the estimates behind it."""

    items: dict[str, dict[str, Any]]
    wanted: dict[str, list[float]]
    day: dict[str, Any]


@pytest.fixture
def loaded(small_week: SmallWeek) -> Loaded:
    plan = small_week.plan()
    [truck] = load_out_of(plan)
    [day] = truck["days"]
    wanted: dict[str, list[float]] = {}
    for one in plan.placed.select_related("estimate"):
        for material in one.estimate.detail["materials"]:
            wanted.setdefault(material["key"], []).append(material["load_out"])
    return Loaded({item["key"]: item for item in day["items_to_load"]}, wanted, day)


def test_wire_adds_up_over_the_jobs_of_the_day_and_comes_in_whole_spools(loaded: Loaded) -> None:
    wire = loaded.items[PROCEDURE]
    assert wire["load"] == pytest.approx(sum(loaded.wanted[PROCEDURE]))
    assert wire["pack"] == 11.3  # a 25 lb spool, common practice
    assert wire["packs"] * wire["pack"] >= wire["load"] > (wire["packs"] - 1) * wire["pack"]


def test_dam_blocks_are_used_again_so_the_largest_job_decides(loaded: Loaded) -> None:
    blocks = [key for key in loaded.wanted if key == "dam_blocks"]
    for key in blocks:
        assert loaded.items[key]["load"] == max(loaded.wanted[key])
    assert all(item["load"] > 0 for item in loaded.items.values())


def test_the_days_mass_is_that_of_its_items(loaded: Loaded) -> None:
    assert loaded.day["mass_kg"] == pytest.approx(
        sum(item["mass_kg"] for item in loaded.items.values()), abs=0.01
    )
    wire = loaded.items[PROCEDURE]
    assert wire["mass_kg"] == pytest.approx(wire["load"], abs=0.01)  # wire is counted in kg


def test_two_days_are_two_lists(small_week: SmallWeek) -> None:
    small_week.window.ends_at = at(0, 11)
    small_week.window.save()
    track_time.window(small_week.track, day=2, hours=(8, 11))

    [truck] = load_out_of(small_week.plan())

    assert [day["day"] for day in truck["days"]] == ["2026-03-02", "2026-03-04"]
    assert [len(day["jobs"]) for day in truck["days"]] == [1, 1]


def test_publishing_keeps_the_list_with_the_plan(small_week: SmallWeek) -> None:
    draft = small_week.plan()
    assert draft.load_out == []

    plan = publish_plan(by=small_week.supervisor, plan=draft, expected_version=1, at=at(-1, 12))

    plan.refresh_from_db()
    assert plan.load_out == load_out_of(plan)
    assert plan.load_out[0]["crews"] == [small_week.crew.name]


@dataclass
class TwoDays:
    """A plan whose one truck loads on Monday and on Wednesday."""

    plan: WeekPlan
    truck: str


@pytest.fixture
def two_days(small_week: SmallWeek) -> TwoDays:
    small_week.window.ends_at = at(0, 11)
    small_week.window.save()
    track_time.window(small_week.track, day=2, hours=(8, 11))
    assert small_week.crew.truck is not None
    return TwoDays(small_week.plan(), small_week.crew.truck.code)


def paper(plan: WeekPlan, **only: str) -> bytes:
    return load_out_paper(plan, load_out_of(plan), US, **only)


def test_on_paper_each_truck_and_day_has_its_own_page(two_days: TwoDays) -> None:
    whole, one = paper(two_days.plan), paper(two_days.plan, truck=two_days.truck, day="2026-03-04")
    assert whole.startswith(b"%PDF-")
    assert (pages(whole), pages(one)) == (2, 1)


def test_the_paper_says_day_crew_jobs_and_every_item_in_the_readers_units(
    two_days: TwoDays,
) -> None:
    trucks = load_out_of(two_days.plan)
    in_pounds, in_kilograms = said(trucks, US), said(trucks, METRIC)
    [monday, wednesday] = in_pounds
    [item] = [i for i in trucks[0]["days"][0]["items_to_load"] if i["key"] == PROCEDURE]

    assert (monday["day"], wednesday["day"]) == ("Monday 2 March 2026", "Wednesday 4 March 2026")
    assert monday["leaves"].startswith("Mon 2 Mar 07:")
    job = trucks[0]["days"][0]["jobs"][0]
    assert monday["jobs"] == [f"{job['turnout']} ({job['job']}, {job['crew']})"]
    assert len(monday["items"]) == len(trucks[0]["days"][0]["items_to_load"])
    assert [item["name"], f"{item['packs']} of 11.3 kg"] in [[i[0], i[2]] for i in monday["items"]]
    assert monday["mass"].endswith(" lb")
    assert in_kilograms[0]["mass"].endswith(" kg")


@pytest.mark.parametrize(("kg", "heavy"), [(100.0, False), (100.001, True)])
def test_a_load_above_what_the_truck_may_carry_is_marked(
    two_days: TwoDays, kg: float, heavy: bool
) -> None:
    trucks = load_out_of(two_days.plan)
    trucks[0]["capacity_kg"], trucks[0]["days"][0]["mass_kg"] = 100.0, kg
    assert said(trucks, US)[0]["too_heavy"] is heavy


@pytest.mark.parametrize("only", [{"truck": "TR-none"}, {"day": "2026-03-03"}, {"day": "x"}])
def test_a_truck_or_day_with_nothing_to_load_is_refused(
    two_days: TwoDays, only: dict[str, str]
) -> None:
    with pytest.raises(Refused, match="There is nothing to load for truck"):
        paper(two_days.plan, **only)


@pytest.mark.parametrize(
    ("role", "status"),
    [("supervisor", 200), ("welder", 200), ("engineer", 200), ("inspector", 403)],
)
def test_who_loads_by_it_gets_the_paper_from_page_and_api(
    client: Client, small_week: SmallWeek, two_days: TwoDays, role: str, status: int
) -> None:
    client.force_login(railway.person(role, small_week.territory))
    for address in ("/plans/{}/load-out/paper/", "/api/plans/{}/load-out/paper/"):
        answer = client.get(address.format(two_days.plan.pk) + "?day=2026-03-02")
        assert answer.status_code == status
        if status == 200:
            assert answer.headers["Content-Type"] == "application/pdf"
            assert pages(answer.content) == 1


def test_the_paper_of_another_territory_does_not_exist(client: Client, two_days: TwoDays) -> None:
    client.force_login(railway.person("welder", railway.territory()))
    assert client.get(f"/plans/{two_days.plan.pk}/load-out/paper/").status_code == 404
