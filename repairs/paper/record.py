"""The record of one job as PDF, for whoever keeps it elsewhere. The layout is ``record.typ``."""

import hashlib
import json
from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from io import BytesIO
from typing import Any

from PIL import Image

from repairs.field.penetrant import ONLY_OPEN, Round
from repairs.field.state import FieldState
from repairs.models import FieldPhoto, TrackRestriction
from repairs.paper.press import pressed
from repairs.services.field_reading import Entry, RecordRead, Signature
from repairs.setting_words import said_place
from repairs.templatetags.repairs import clock, day_and_clock, hours
from turnouts.analysis.showing import UnitPreference, format_length, show
from turnouts.analysis.units import Dimension

LONGEST_SIDE_PX = 480
"""Of a photograph on paper: enough to know it again; the whole one is kept with its SHA-256."""


def record_paper(record: RecordRead, units: UnitPreference) -> bytes:
    """The record as PDF, in the reader's units, with its photographs small."""
    return pressed("record.typ", json.dumps(said(record, units), sort_keys=True))


def said(record: RecordRead, units: UnitPreference) -> dict[str, Any]:
    """All words of the record's paper, sorted into its parts."""
    sheet, state = record.sheet, record.state
    job = sheet.job
    return {
        "number": sheet.number,
        "place": f"{job.turnout}, {job.turnout.track}",
        "work": f"Job {job.reference}: {job.get_disposition_display().lower()}, "
        f"{job.component.get_kind_display().lower()} {job.component}, {job.procedure}, "
        f"{sheet.crew}",
        "track": f"{state.phase.label}. {state.track_words}",
        "warnings": list(_warnings(record)),
        "facts": list(_facts(record, units)),
        "deviations": [one.sentence for one in (*state.deviations, *state.conflicts)],
        "readings": list(_readings(state, units)),
        "indications": list(_indications(state, units)),
        "stages": list(_stages(state)),
        "hold_points": list(_hold_points(state)),
        "passes": list(_passes(state, units)),
        "penetrant": [_round(one, units) for one in state.penetrant],
        "only_open": ONLY_OPEN,
        "materials": [
            [one.name, f"{one.quantity:f} {one.unit}", f"{one.expected:.1f} {one.unit}"]
            for one in record.materials
        ],
        "notes": list(state.notes),
        "pictures": [_picture(one) for one in record.pictures],
        "corrections": [
            [one.was, one.now, f"{one.reason} {one.by}, {day_and_clock(one.at)}"]
            for one in state.corrections
        ],
        "signatures": [_signature(one) for one in record.signatures],
        "followed": list(record.followed),
        "overrides": [
            f"{one.person}, by {one.by} ({one.role}), {day_and_clock(one.at)}: {one.reason}"
            for one in record.overrides
        ],
        "entries": [_entry(one) for one in record.entries],
    }


def _warnings(record: RecordRead) -> Iterator[str]:
    if record.broken:
        yield f"THE RECORD DOES NOT HOLD TOGETHER. {record.broken}"
    if record.sheet.withdrawn_at:
        yield f"The sheet was withdrawn {day_and_clock(record.sheet.withdrawn_at)}."
    if not record.signatures:
        yield "NOT SIGNED. Nobody has put their name to this record."
    if record.behind:
        yield "Entries came after the last signature; they are not signed yet."


def _facts(record: RecordRead, units: UnitPreference) -> Iterator[tuple[str, str]]:
    state, back = record.state, record.state.handed_back
    begun = f"{day_and_clock(state.started_at)} by {state.started_by}" if state.started_at else ""
    yield "Begun", begun or "not yet"
    yield "Briefing", f"{len(state.briefing)} points gone through"
    if back is None:
        yield "Handed back", "not yet"
    else:
        none = "no new restriction" if back.unrestricted else "no speed given"
        speed = none if back.speed_kmh is None else f"at {_speed(back.speed_kmh, units)}"
        note = f". {back.note}" if back.note else ""
        yield (
            "Handed back",
            f"{day_and_clock(state.ended_at)}, {back.state.label.lower()}, {speed}, by the word of "
            f"{back.qualified_person}{note}",
        )
    if state.broken_off is not None:
        yield "Broken off", state.broken_off.reason
    yield "Penetrant", state.proof_words
    if record.restriction is not None:
        yield "What trains may do", _restriction(record.restriction, units)


def _restriction(row: TrackRestriction, units: UnitPreference) -> str:
    if row.confirmed_at is None:
        return f"{row.reason} It waits for a qualified person's word."
    speed = "closed to traffic" if row.confirmed_kmh is None else _speed(row.confirmed_kmh, units)
    return (
        f"{row.reason} Confirmed {day_and_clock(row.confirmed_at)} by {row.confirmed_by}, "
        f"{row.confirmed_role}: {speed}. {row.confirmed_note}".strip()
    )


def _readings(state: FieldState, units: UnitPreference) -> Iterator[list[str]]:
    for one in state.measurements:
        route = f", {one.route.label.lower()}" if one.route else ""
        limits = "; ".join(f"{each.limit} ({each.clause})" for each in one.findings)
        judged = {None: "not judged", True: "within", False: "past its limit"}[one.within]
        yield [
            f"{one.quantity.label}{route}",
            format_length(one.value_mm, units.length),
            limits or "none on the sheet",
            judged if one.final else "before the work was done",
            f"{one.by}, {clock(one.at)}",
        ]


def _indications(state: FieldState, units: UnitPreference) -> Iterator[str]:
    for one in state.indications:
        places = [
            f"{format_length(mm, units.length)} {way}"
            for mm, way in ((one.x_mm, "along"), (one.y_mm, "across"))
            if mm is not None
        ]
        place = f" at {', '.join(places)}" if places else ""
        earlier = "" if one.current else " Of an earlier test."
        yield f"{one.zone}{place}: {one.judged.sentence}{earlier}"


def _stages(state: FieldState) -> Iterator[list[str]]:
    for one in state.stages:
        marks = [one.state.label.lower()]
        marks += ["repeated"] if one.repeated else []
        marks += ["with a pause"] if one.interrupted else []
        yield [
            one.name,
            _by_whom(one.started_at, one.started_by),
            _by_whom(one.ended_at, one.ended_by),
            hours(one.took_min) if one.took_min is not None else "",
            ", ".join(marks),
        ]


def _by_whom(at: datetime | None, by: str) -> str:
    return f"{clock(at)} {by}" if at is not None else "not recorded"


def _hold_points(state: FieldState) -> Iterator[str]:
    for one in state.hold_points:
        passed = f"{clock(one.passed_at)}, {' and '.join(one.by)}" if one.passed_at else ""
        yield f"{one.words}{f' ({one.zone})' if one.zone else ''}: {passed or 'NOT RECORDED'}"


def _passes(state: FieldState, units: UnitPreference) -> Iterator[list[str]]:
    for one in state.pass_temperatures:
        yield [
            clock(one.at),
            one.zone,
            show(one.degc, Dimension.TEMPERATURE, units),
            said_place(float(one.place_mm), units),
            "above the limit: wait" if one.above else "at or below the limit",
            " ".join(part for part in (one.by, one.note) if part),
        ]


def _round(one: Round, units: UnitPreference) -> str:
    steps = (
        ("on", one.applied_at),
        ("wiped", one.wiped_at),
        ("developer", one.developed_at),
        ("read", one.read_at),
    )
    went = ", ".join(f"{name} {clock(at)}" for name, at in steps if at is not None)
    heat = (
        "not measured"
        if one.surface_degc is None
        else show(one.surface_degc, Dimension.TEMPERATURE, units)
    )
    return (
        f"{went}; steel {heat}; dwell at least {one.dwell_least_min:g} min, developing at least "
        f"{one.developing_least_min:g} min."
    )


def _picture(row: FieldPhoto) -> dict[str, Any]:
    words = f"{row.event.data.get('caption') or 'Photograph'}, {day_and_clock(row.event.at)}"
    kept: dict[str, Any] = {"words": words, "sha256": row.sha256, "fault": "", "bytes": []}
    try:
        with row.image.open("rb") as file:
            content = file.read()
    except FileNotFoundError:
        return kept | {"fault": "Its file is missing from the store."}
    if hashlib.sha256(content).hexdigest() != row.sha256:
        return kept | {"fault": "Its file is not the one that was sent: it was changed."}
    return kept | {"bytes": list(_small(content))}


def _small(content: bytes) -> bytes:
    picture = Image.open(BytesIO(content))
    picture.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    picture.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    kept = BytesIO()
    picture.convert("RGB").save(kept, "JPEG", quality=70)
    return kept.getvalue()


def _signature(one: Signature) -> dict[str, Any]:
    row = one.row
    closed = row.content.get("closed")
    words = [f"Job {closed['job_state'].replace('_', ' ')}."] if closed else []
    words += [f"The rest is job {closed['rest']}."] if closed and closed["rest"] else []
    words += [closed["sentence"]] if closed and closed["sentence"] else []
    if row.content.get("tonnage_mgt"):
        passed = Decimal(row.content["tonnage_mgt"])
        words.append(f"{passed:.1f} MGT had passed over the component.")
    return {
        "title": f"{row.get_kind_display()} {day_and_clock(row.signed_at)}",
        "name": row.signed_name,
        "as": f"{row.role}. {row.qualification}.",
        "statement": row.statement,
        "words": " ".join(words),
        "entries": f"{len(row.content['events'])} entries{_new(one)}",
        "serial": str(row.serial),
        "sha256": row.sha256,
        "previous": row.previous or "none, the first of the railway",
        "head": row.content["events_sha256"] or "no entries",
    }


def _new(one: Signature) -> str:
    if one.row.kind == "signed" or not one.new:
        return ""
    return f", new: {', '.join(map(str, one.new))}"


def _entry(one: Entry) -> dict[str, str]:
    row = one.row
    return {
        "number": str(row.number),
        "at": day_and_clock(row.at),
        "by": f"{row.by}{', from paper' if row.entered_from == 'paper' else ''}",
        "kind": row.get_kind_display(),
        "says": one.says,
        "now": one.corrected.now if one.corrected else "",
        "sha256": row.sha256[:16],
    }


def _speed(kmh: Decimal, units: UnitPreference) -> str:
    return show(kmh, Dimension.SPEED, units)
