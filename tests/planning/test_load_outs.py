"""What is loaded: whole packs by truck and day; what is used again is not loaded twice."""

from dataclasses import dataclass
from typing import Any

import pytest

from planning.services.load_outs import load_out_of
from planning.services.publish import publish_plan
from tests import track_time
from tests.planning.conftest import SmallWeek
from tests.track_time import PROCEDURE, at


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
