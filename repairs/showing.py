"""What a decision rests on, sorted for reading: what decided, what else was looked at."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_FLOOR, Decimal
from typing import Any

from django.db.models import QuerySet
from django.db.models.fields.json import KT

from repairs.models import Decision
from turnouts.analysis.showing import UnitPreference
from turnouts.analysis.units import UNITS, rounded, to_stored

READ = ("text read", "text read in a secondary copy")
"""How a rule's text was checked, where nothing needs saying beside it."""

PAST = ("near", "beyond")
ORDER = {"beyond": 0, "near": 1, "not_measured": 2, "within": 3, "not_applicable": 4}


@dataclass(frozen=True)
class Evidence:
    """The findings of a decision: those that decide, those that were looked at, and the marks."""

    deciding: list[dict[str, Any]]
    others: list[dict[str, Any]]
    not_asked: list[dict[str, Any]]
    to_measure: list[dict[str, Any]]
    helpful: list[dict[str, Any]]
    cautions: list[str]
    unread: list[str]
    confidence: str
    confidence_reason: str


def evidence_of(decision: Decision) -> Evidence:
    detail = decision.detail
    findings = sorted(detail.get("findings", []), key=lambda f: ORDER[f["outcome"]])
    asked = [f for f in findings if f.get("required") or f["outcome"] in (*PAST, "within")]
    wanted = detail.get("to_measure", [])
    return Evidence(
        deciding=[f for f in asked if f["outcome"] in PAST],
        others=[f for f in asked if f["outcome"] not in PAST],
        not_asked=[f for f in findings if f not in asked],
        to_measure=[m for m in wanted if m.get("blocks")],
        helpful=[m for m in wanted if not m.get("blocks")],
        cautions=detail.get("cautions", []),
        unread=unread(asked),
        confidence=detail["confidence"],
        confidence_reason=detail["confidence_reason"],
    )


def unread(findings: Iterable[dict[str, Any]]) -> list[str]:
    """A sentence for each rule whose text nobody has read, so that the screen can say so."""
    said = {
        f"{f['clause']}: {f['checked'].replace('-', ' ')}"
        for f in findings
        if f["checked"] not in READ
    }
    return sorted(said)


def with_speeds(rows: QuerySet[Decision], *, whole: bool = False) -> QuerySet[Decision]:
    """Decisions with the speeds as the rules say them, in mph; the detail only where asked for."""
    rows = rows if whole else rows.defer("detail")
    return rows.annotate(
        mph=KT("detail__traffic__speed_mph"), passenger_mph=KT("detail__traffic__passenger_mph")
    )


def traffic_words(decision: Any, units: UnitPreference) -> str:
    """What traffic may do in a few words, in the reader's unit of speed."""
    kind = decision.traffic
    if kind == "stop":
        return "Stop"
    speed = _speeds(decision, units)
    if kind == "unknown":
        return f"Not cleared, never over {speed}" if speed else "Not cleared"
    return f"Class speed, {speed}" if kind == "class_speed" and speed else speed or "Class speed"


def _speeds(decision: Any, units: UnitPreference) -> str:
    if decision.mph is None:
        return ""
    freight = _speed(decision.mph, units)
    if decision.passenger_mph is None:
        return f"{freight}, no passenger trains"
    if decision.passenger_mph == decision.mph:
        return freight
    return f"{freight}, passenger trains {_speed(decision.passenger_mph, units)}"


def _speed(mph: str, units: UnitPreference) -> str:
    """A speed the rules give in mph; in km/h it is rounded down, never up."""
    if units.speed == "mph":
        return f"{mph} mph"
    kmh = rounded(to_stored(Decimal(mph), UNITS["mph"]), Decimal(1), ROUND_FLOOR)
    return f"{kmh} km/h"


def due_words(due_on: date, today: date) -> str:
    """When it is due, seen from today; late is said in words."""
    days = (due_on - today).days
    if days < 0:
        return f"late by {-days} day{'' if days == -1 else 's'}"
    if days < 2:
        return "due tomorrow" if days else "due today"
    return f"due in {days} days"
