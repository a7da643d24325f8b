"""What an inspector hands over after a morning in track: gages and spalls, in inches."""

from datetime import timedelta
from typing import Any

from django.utils import timezone
from playwright.sync_api import FilePayload

from tests.browser.district import District
from tests.turnouts.sheets import workbook
from turnouts.analysis.terms import Role

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

GOOD = {
    "flangeway_width": "1 7/8",
    "flangeway_depth": "1 3/4",
    "guard_check_gage": "54 5/8",
    "guard_face_gage": "52 3/4",
    "tread_wear": "1/8",
}
"""Readings in inches inside the limits of class 3: 49 CFR 213.137(a), (c) and 213.143(a)."""

Sheets = dict[str, list[list[Any]]]

VISITS = ["reference", "turnout", "inspected_at", "kind", "inspector", "note"]
READINGS = ["inspection", "position", "quantity", "route", "behind_point [in]", "value [in]"]
DEFECTS = ["reference", "inspection", "position", "kind", "zone", "length [in]", "width [in]"]
DEFECTS += ["depth [in]", "breaks_surface", "reaches_edge", "reaches_base", "note"]


def spalled_points(of: District, depth: str = "1/2") -> Sheets:
    """A visit to each turnout of the district, each frog's point spalled so deep.

    1/2 in is within the 5/8 in of 49 CFR 213.137(b), so trains run on at class speed; 11/16 in
    and 6 1/4 in long is past both its halves, so they run at 10 mph.
    """
    sheets: Sheets = {"inspections": [VISITS], "measurements": [READINGS], "defects": [DEFECTS]}
    seen = timezone.localtime() - timedelta(days=1)
    inspector = of.people[Role.INSPECTOR].username
    for spot in of.spots:
        visit = f"I-{spot.code}"
        sheets["inspections"].append(
            [visit, spot.code, f"{seen:%Y-%m-%dT%H:%M}", "detailed", inspector, "Dry"]
        )
        sheets["measurements"] += [
            [visit, "frog", quantity, None, "12" if quantity == "tread_wear" else None, value]
            for quantity, value in GOOD.items()
        ]
        spall = ["frog", "spall", "point", "6 1/4", "3/4", depth, "yes", "no", "no", "Seen by day"]
        sheets["defects"].append([f"D-{spot.code}", visit, *spall])
    return sheets


def as_workbook(sheets: Sheets, name: str = "morning.xlsx") -> FilePayload:
    return {"name": name, "mimeType": XLSX, "buffer": workbook(**sheets)}


def as_csv(name: str, rows: list[list[Any]]) -> FilePayload:
    lines = [",".join("" if cell is None else str(cell) for cell in row) for row in rows]
    return {"name": f"{name}.csv", "mimeType": "text/csv", "buffer": "\n".join(lines).encode()}
