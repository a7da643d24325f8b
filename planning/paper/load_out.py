"""What each truck loads, as PDF: one page a truck and day. The layout is ``load_out.typ``."""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.utils.dateparse import parse_date

from planning.models import WeekPlan
from repairs.paper.press import pressed
from repairs.templatetags.repairs import day_and_clock
from turnouts.analysis.showing import UnitPreference, show
from turnouts.analysis.units import Dimension
from turnouts.services.errors import Refused

HERE = Path(__file__).parent
STATES = {
    "draft": "DRAFT: do not load by this list, load by the published plan.",
    "published": "",
    "superseded": "A LATER PLAN TOOK ITS PLACE: do not load by this list.",
}


def load_out_paper(
    plan: WeekPlan,
    trucks: list[dict[str, Any]],
    units: UnitPreference,
    *,
    truck: str = "",
    day: str = "",
) -> bytes:
    """The PDF, of all trucks and days or of one; Refused where that one has nothing to load."""
    pages = said(trucks, units, truck=truck, day=day)
    if not pages:
        raise Refused(
            f"There is nothing to load for truck {truck or '(any)'} on {day or 'any day'} in "
            f"{plan}. Look at the list on the page for the trucks and days that have."
        )
    heading = {
        "plan": f"{plan.territory.name}, week of {plan.week:%Y-%m-%d}, plan {plan.number}",
        "state": STATES[plan.state],
        "pages": pages,
    }
    return pressed("load_out.typ", json.dumps(heading, sort_keys=True), HERE)


def said(
    trucks: list[dict[str, Any]], units: UnitPreference, *, truck: str = "", day: str = ""
) -> list[dict[str, Any]]:
    """The words of each page, in the reader's units."""
    return [
        _page(one, load, units)
        for one in trucks
        for load in one["days"]
        if truck in ("", one["truck"]) and day in ("", load["day"])
    ]


def _page(truck: dict[str, Any], load: dict[str, Any], units: UnitPreference) -> dict[str, Any]:
    on = parse_date(load["day"])
    assert on is not None  # noqa: S101 - written by the load-out itself
    return {
        "truck": truck["name"],
        "code": truck["truck"],
        "crews": ", ".join(truck["crews"]),
        "day": f"{on:%A} {on.day} {on:%B %Y}",
        "leaves": day_and_clock(load["leaves_at"]),
        "jobs": [f"{one['turnout']} ({one['job']}, {one['crew']})" for one in load["jobs"]],
        "items": [
            [
                item["name"],
                f"{item['load']:g} {item['unit']}",
                _packs(item),
                _mass(item["mass_kg"], units),
            ]
            for item in load["items_to_load"]
        ],
        "mass": _mass(load["mass_kg"], units),
        "capacity": _mass(truck["capacity_kg"], units),
        "too_heavy": load["mass_kg"] > truck["capacity_kg"],
    }


def _packs(item: dict[str, Any]) -> str:
    return f"{item['packs']}" + (
        f" of {item['pack']:g} {item['unit']}" if item["pack"] != 1 else ""
    )


def _mass(kg: float, units: UnitPreference) -> str:
    return show(Decimal(str(kg)), Dimension.MASS, units)
