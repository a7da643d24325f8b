"""What each truck loads for each day: material in whole packs, with its mass.

Kept with the plan when it is published, so that the list people loaded by can be read years later.
"""

from collections import defaultdict
from collections.abc import Iterable
from math import ceil
from typing import Any

from django.utils import timezone

from planning.models import PlannedJob, WeekPlan
from repairs.models import Estimate
from repairs.services.estimates import material_use

FUEL = "fuel"


def load_out_kept(plan: WeekPlan) -> list[dict[str, Any]]:
    """As it was published; of a draft as it would be."""
    kept: list[dict[str, Any]] = plan.load_out
    return kept if plan.published_at else load_out_of(plan)


def load_out_of(plan: WeekPlan) -> list[dict[str, Any]]:
    """For each truck of the plan its days in order, and the items to load on each."""
    trucks: dict[str, list[PlannedJob]] = defaultdict(list)
    rows = plan.placed.select_related("job", "estimate", "crew", "truck", "turnout")
    for one in rows.order_by("leaves_at", "pk"):
        if one.truck is not None:
            trucks[one.truck.code].append(one)
    drawn = {(load["truck"], load["item"]): load for load in plan.detail["loads"]}
    return [_truck(placed, drawn) for _, placed in sorted(trucks.items())]


def _truck(placed: list[PlannedJob], drawn: dict[tuple[str, str], Any]) -> dict[str, Any]:
    truck = placed[0].truck
    assert truck is not None  # noqa: S101 - the caller groups by truck
    days: dict[str, list[PlannedJob]] = defaultdict(list)
    for one in placed:
        days[timezone.localdate(one.leaves_at).isoformat()].append(one)
    return {
        "truck": truck.code,
        "name": truck.name,
        "crews": sorted({one.crew.name for one in placed}),
        "capacity_kg": float(truck.capacity_kg),
        "days": [_day(day, here) for day, here in days.items()],
        "depot": [
            {
                "key": item,
                "used": load["used"],
                "from_depot": load["from_depot"],
                "ordered": load.get("ordered", 0.0),
            }
            for (code, item), load in sorted(drawn.items())
            if code == truck.code
        ],
    }


def _day(day: str, placed: list[PlannedJob]) -> dict[str, Any]:
    items = _items(one.estimate for one in placed)
    return {
        "day": day,
        "leaves_at": min(one.leaves_at for one in placed).isoformat(),
        "jobs": [
            {"job": one.job.reference, "turnout": one.turnout.code, "crew": one.crew.name}
            for one in placed
        ],
        "items_to_load": items,
        "mass_kg": round(sum(item["mass_kg"] for item in items), 3),
    }


def _items(estimates: Iterable[Estimate]) -> list[dict[str, Any]]:
    """What is used up adds up over the day; what is used again is loaded for the largest job."""
    found: dict[str, dict[str, Any]] = {}
    for estimate in estimates:
        used_up = {*material_use(estimate), FUEL}
        for material in estimate.detail["materials"]:
            key, amount = material["key"], material["load_out"]
            item = found.setdefault(key, _item(material))
            item["load"] = item["load"] + amount if key in used_up else max(item["load"], amount)
    for item in found.values():
        item["packs"] = ceil(item["load"] / item["pack"] - 1e-9) if item["pack"] else 0
        item["mass_kg"] = round(item["load"] * item.pop("unit_kg"), 3)
        item["load"] = round(item["load"], 3)
    return [item for item in found.values() if item["load"] > 0]


def _item(material: dict[str, Any]) -> dict[str, Any]:
    amount = material["load_out"]
    return {
        "key": material["key"],
        "name": material["name"],
        "unit": material["unit"],
        "pack": material["pack"],
        "load": 0.0,
        "unit_kg": material["mass_kg"] / amount if amount else 0.0,
    }
