"""Small uploads for tests: a railway of one line as the files it would hand over."""

import csv
import io
import zipfile
from typing import Any

import openpyxl

from tests import railway
from turnouts.analysis.terms import Role
from turnouts.models import Person
from turnouts.services.imports import import_now
from turnouts.services.sheets.faults import Fault
from turnouts.services.sheets.report import ImportReport, SheetReport

RAILWAY = {
    "territories": "code,name\nN,North\n",
    "people": "username,first_name,last_name,email,length_unit\nada,Ada,Arden,,mm\n",
    "role_grants": "username,role,territory\nada,inspector,N\n",
    "lines": "code,name,territory,milepost_unit\nL1,Line One,N,mi\n",
    "mileposts": "line,reading,chainage [m]\nL1,0,0\nL1,1,1609.344\nL1,2,3000\n",
    "tracks": "line,name,kind\nL1,Main,main\nL1,Yard,yard\n",
    "track_classes": (
        "line,track,from_milepost,to_milepost,class,since,until\nL1,Main,0,2,4,2020-01-01,\n"
    ),
    "turnouts": (
        "code,line,track,diverges_to,milepost,hand,frog_number,rail_section,faces,"
        "speed_through [mph],speed_diverging [mph],access\n"
        "T1,L1,Main,Yard,1.25,right,10,136RE,increasing,40,15,Gate by the bridge\n"
    ),
    "traffic": (
        "turnout,route,since,trains_per_day,annual_tonnage [MGT]\n"
        "T1,through,2015-01-01,8,10\nT1,diverging,2015-01-01,1,2\n"
    ),
    "components": (
        "serial,kind,design,steel\n"
        "F1,frog,rail_bound_manganese,manganese\nF2,frog,rail_bound_manganese,manganese\n"
    ),
    "installations": (
        "serial,turnout,position,installed_on,removed_on,reason_removed\n"
        "F1,T1,frog,2016-01-01,2020-01-01,Worn\nF2,T1,frog,2020-02-01,,\n"
    ),
    "instruments": "code,name,uncertainty [mm]\nG1,Depth gauge,0.2\n",
    "inspections": (
        "reference,turnout,inspected_at,kind,inspector,note\n"
        "I1,T1,2026-03-01T09:30,detailed,ada,Dry\n"
    ),
    "measurements": (
        "inspection,position,quantity,route,behind_point [in],value [in],hardness [HBW],"
        "temperature [degF],uncertainty [mm],instrument\n"
        "I1,frog,flangeway_depth,through,,1 3/8,,,,G1\n"
        "I1,frog,tread_wear,,5,5/16,,,0.1,G1\n"
        "I1,,air_temperature,,,,,41,,\n"
        "I1,frog,hardness,,,,340,,,\n"
    ),
    "defects": (
        "reference,inspection,position,kind,zone,length [in],depth [in],breaks_surface,note\n"
        "D1,I1,frog,spall,point,2 1/2,3/16,yes,Deep\n"
    ),
    "defect_steps": (
        "defect,state,at,by,note\n"
        "D1,triaged,2026-03-02T08:00,ada,\nD1,planned,2026-03-03T08:00,ada,For the week\n"
    ),
}


def everything(**changed: str | None) -> list[tuple[str, bytes]]:
    """All sheets as CSV files, some of them changed or (None) left out."""
    sheets: dict[str, str | None] = {**RAILWAY, **changed}
    return [(f"{name}.csv", text.encode()) for name, text in sheets.items() if text is not None]


def only(**sheets: str) -> list[tuple[str, bytes]]:
    return [(f"{name}.csv", text.encode()) for name, text in sheets.items()]


def importer() -> Person:
    """Somebody who may import every sheet of this app, everywhere."""
    person = railway.person(Role.ADMINISTRATOR)
    railway.grant(person, Role.ENGINEER)
    return person


def bring_in(by: Person, files: list[tuple[str, bytes]], *, dry_run: bool = False) -> ImportReport:
    return import_now(by=by, files=files, dry_run=dry_run, progress=lambda *_: None)


def settled(by: Person) -> None:
    """The whole small railway, brought in."""
    report = bring_in(by, everything())
    assert report.applied, report.faults


def of(report: ImportReport, name: str) -> SheetReport:
    return next(sheet for sheet in report.sheets if sheet.name == name)


def sole_fault(report: ImportReport) -> Fault:
    assert report.fault_count == 1, report.faults
    assert not report.applied
    return report.faults[0]


def rows_in_zip(content: bytes, name: str) -> list[dict[str, str]]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        text = archive.read(f"{name}.csv").decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def workbook(**sheets: list[list[Any]]) -> bytes:
    """A workbook with cells exactly as given, so that numbers, dates and formulas stay such."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        tab = book.create_sheet(name)
        for row in rows:
            tab.append(row)
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()
