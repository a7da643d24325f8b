"""A job sheet as PDF: two pages to work by, then the drawings. The layout is ``sheet.typ``."""

import io
import json
from functools import lru_cache
from typing import Any

import segno

from repairs.models import JobSheet
from repairs.paper.press import pressed
from repairs.setting_words import said_on_sheet
from repairs.templatetags.repairs import clock, day_and_clock, hours, percent
from repairs.welding.wording import size, temperature
from turnouts.analysis.showing import UnitPreference
from turnouts.analysis.whereabouts import Place


def paper_for(sheet: JobSheet, address: str, units: UnitPreference) -> bytes:
    """The PDF of a sheet, with a QR code that leads to its page at ``address``.

    Settings stand in ``units``, those of whoever prints it; all other sizes in both.
    """
    withdrawn = day_and_clock(sheet.withdrawn_at) if sheet.withdrawn_at else ""
    data = said(sheet, units) | {"address": address, "qr": _qr(address), "withdrawn": withdrawn}
    return _printed(json.dumps(data, sort_keys=True))


@lru_cache(maxsize=64)
def _printed(data: str) -> bytes:
    """A sheet never changes, so the same words are set once."""
    return pressed("sheet.typ", data)


def _qr(address: str) -> str:
    drawn = io.BytesIO()
    segno.make(address, error="m").save(drawn, kind="svg", xmldecl=False, border=2)
    return drawn.getvalue().decode()


def said(sheet: JobSheet, units: UnitPreference) -> dict[str, Any]:
    """The content with times as the railway's clock shows them and sizes in both units."""
    content = sheet.content
    time = content["track_time"]
    return {
        **{name: content[name] for name in KEPT},
        "number": sheet.number,
        "place": _place(sheet.place),
        "issued": f"{day_and_clock(sheet.issued_at)} by {sheet.issued_by}",
        "part": content.get("part"),
        "work": content["work"].replace("_", " ").capitalize(),
        "track_time": time
        | {
            "from": day_and_clock(time["starts_at"]),
            "until": day_and_clock(time["hand_back_at"]),
            "hand_back": clock(time["hand_back_at"]),
            "begin": clock(time["planned_start"]),
            "chance": percent(time["chance"]),
            "expected": hours(content["times"]["p50_min"]),
            "enough": hours(content["times"]["p95_min"]),
        },
        "stages": [_stage(stage) for stage in content["stages"]],
        "defects": [_defect(defect) for defect in content["defects"]],
        "zones": [_zone(zone) for zone in content["zones"]],
        "settings": [said_on_sheet(one, units) for one in content["procedure"]["settings"]],
        "procedure": content["procedure"]["title"],
        "interpass": _interpass(content["procedure"]),
        "penetrant": _penetrant(content.get("penetrant")),
    }


def _place(place: Place | None) -> dict[str, str] | None:
    return None if place is None else {"words": place.words, "uri": place.uri}


KEPT = (
    "where",
    "crew",
    "component",
    "briefing",
    "hold_points",
    "steps",
    "materials",
    "cautions",
    "acceptance",
    "states",
    "call",
)


def _stage(stage: dict[str, Any]) -> dict[str, Any]:
    return {
        "name": stage["name"],
        "begins": clock(stage["begins_at"]),
        "last": clock(stage["last_start_at"]),
        "takes": hours(stage["median_min"]),
        "open": stage["hand_back"] == "never",
        "late": stage["late"],
    }


def _defect(defect: dict[str, Any]) -> dict[str, Any]:
    names = ("length_mm", "width_mm", "depth_mm")
    sizes = [size(float(defect[name])) if defect[name] else "not measured" for name in names]
    return {
        "title": f"{_words(defect['kind'])}, {_words(defect['zone']).lower()}",
        "reference": defect["reference"],
        "extents": "{} long, {} wide, {} deep".format(*sizes),
        "note": defect["note"],
        "sentence": defect["sentence"],
    }


def _zone(zone: dict[str, Any]) -> dict[str, Any]:
    lengths = ("top_length_mm", "top_width_mm", "floor_length_mm", "floor_width_mm", "depth_mm")
    return {
        **{name: zone[name] for name in (*lengths, "layers")},
        "title": _words(zone["zone"]),
        "top": f"{size(zone['top_length_mm'])} by {size(zone['top_width_mm'])}",
        "floor": f"{size(zone['floor_length_mm'])} by {size(zone['floor_width_mm'])}",
        "depth": size(zone["depth_mm"]),
    }


def _interpass(procedure: dict[str, Any]) -> str:
    rule = procedure.get("interpass")
    if rule is None:
        return ""
    place = f"{size(rule['place_mm'])} from the weld" if rule["place_mm"] else "on the weld"
    return f"Next bead only below {temperature(rule['limit_degc'])}, measured {place}."


def _penetrant(test: dict[str, Any] | None) -> list[str]:
    if test is None:
        return []
    return [
        f"Dwell {test['penetrant_dwell_min']:.0f} min, double below "
        f"{temperature(test['penetrant_cold_degc'])}; developing {test['developing_min']:.0f} min; "
        f"steel below {temperature(test['penetrant_hot_degc'])}.",
        test["accept"],
        test["only_open"],
    ]


def _words(value: str) -> str:
    return value.replace("_", " ").capitalize()
