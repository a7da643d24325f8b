"""The proof of the repair: final readings against their limits, and what the penetrant says."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from repairs.field.events import AtStage, Event, Indication, Kind, Measured
from repairs.field.indications import NONE_ALLOWED, judge
from repairs.field.penetrant import Round
from repairs.field.sheet import FieldSheet
from repairs.field.state import (
    About,
    Finding,
    Proof,
    Reading,
    Said,
    ShownIndication,
)


@dataclass(frozen=True, slots=True)
class LastCut:
    """When the metal was last touched: begun, and ended unless it still goes on.

    Where no cutting was recorded, the final measuring stands for it.
    """

    begun: datetime | None
    ended: datetime | None


def last_cut(sheet: FieldSheet, events: Sequence[Event]) -> LastCut:
    """The last stage on a zone, from the events in their order."""
    cutting = {stage.key for stage in sheet.stages if stage.cuts}
    marks = [e for e in events if isinstance(e.data, AtStage) and e.data.stage in cutting]
    begun = max((e.at for e in marks if e.kind is Kind.STAGE_STARTED), default=None)
    ended = max((e.at for e in marks if e.kind is Kind.STAGE_ENDED), default=None)
    if begun is None:
        return LastCut(ended or _final_measuring(events), ended)
    return LastCut(begun, ended if ended is not None and ended >= begun else None)


def _final_measuring(events: Sequence[Event]) -> datetime | None:
    starts = (
        e.at for e in events if isinstance(e.data, AtStage) and e.data.stage == "final_measuring"
    )
    return min(starts, default=None)


def readings(sheet: FieldSheet, events: Sequence[Event], cut: LastCut) -> tuple[Reading, ...]:
    """Every measurement judged; those taken before the metal was last touched are not final.

    One taken while it was being ground gives way to one taken after.
    """
    found = [
        _reading(sheet, event, event.data, cut.begun)
        for event in events
        if isinstance(event.data, Measured)
    ]
    if cut.ended is not None:
        after = {_thing(one) for one in found if one.at >= cut.ended}
        found = [
            replace(one, final=one.final and (one.at >= cut.ended or _thing(one) not in after))
            for one in found
        ]
    governing = {_thing(one): one.event for one in sorted(found, key=_badness) if one.final}
    return tuple(replace(one, governs=governing.get(_thing(one)) == one.event) for one in found)


def _reading(sheet: FieldSheet, event: Event, data: Measured, cut_at: datetime | None) -> Reading:
    return Reading(
        event=event.id,
        quantity=data.quantity,
        route=data.route,
        value_mm=data.value_mm,
        at=event.at,
        by=event.by,
        final=cut_at is not None and event.at >= cut_at,
        governs=False,
        findings=tuple(
            Finding(
                title=limit.title,
                limit=limit.words,
                clause=limit.clause,
                within=None if limit.compare is None else limit.allows(data.value_mm),
                margin_mm=None if limit.compare is None else limit.margin_mm(data.value_mm),
            )
            for limit in sheet.limits
            if limit.quantity is data.quantity
        ),
    )


def _thing(one: Reading) -> tuple[str, str]:
    return (one.quantity.value, one.route.value if one.route else "")


def _badness(one: Reading) -> tuple[Decimal, datetime, str]:
    """The worst comes last; without a limit, the latest."""
    margins = [finding.margin_mm for finding in one.findings if finding.margin_mm is not None]
    worst = min(margins, default=Decimal(0))
    return (-worst, one.at, one.event)


def reading_faults(sheet: FieldSheet, found: Sequence[Reading]) -> tuple[Said, ...]:
    """A sentence for each governing reading past a limit."""
    return tuple(
        Said(
            About.LIMIT,
            f"{_named(one)} is {one.value_mm:f} mm; the limit is {finding.limit} "
            f"({finding.clause}).",
        )
        for one in found
        if one.governs
        for finding in one.findings
        if finding.within is False
    )


def reading_conflicts(found: Sequence[Reading]) -> tuple[Said, ...]:
    """Two different final readings of one thing."""
    said = []
    for one in found:
        others = [o for o in found if o.final and _thing(o) == _thing(one)]
        values = sorted({o.value_mm for o in others})
        if one.governs and len(values) > 1:
            said.append(
                Said(
                    About.LIMIT,
                    f"{_named(one)} was entered as {' and '.join(f'{v:f}' for v in values)} mm; "
                    f"the worse, {one.value_mm:f} mm, governs until one is corrected.",
                )
            )
    return tuple(said)


def missing_readings(sheet: FieldSheet, found: Sequence[Reading]) -> tuple[str, ...]:
    """Limits of the sheet for which there is no final reading."""
    have = {one.quantity for one in found if one.final}
    missing = [
        limit.quantity.label
        for limit in sheet.limits
        if limit.quantity is not None and limit.quantity not in have
    ]
    return tuple(dict.fromkeys(missing))


def _named(one: Reading) -> str:
    return one.quantity.label + (f", {one.route.label.lower()}" if one.route else "")


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the penetrant says now, in a word and in a sentence."""

    proof: Proof
    words: str


def indications(
    sheet: FieldSheet,
    events: Sequence[Event],
    tests: Sequence[Round],
    cut_at: datetime | None,
) -> tuple[ShownIndication, ...]:
    """Every indication judged; those before the last round or the last cut are of the past."""
    level = sheet.penetrant.accept_level if sheet.penetrant else NONE_ALLOWED
    since = _since(tests, cut_at)
    return tuple(
        ShownIndication(
            event=event.id,
            zone=event.data.zone,
            length_mm=event.data.length_mm,
            width_mm=event.data.width_mm,
            x_mm=event.data.x_mm,
            y_mm=event.data.y_mm,
            judged=judge(event.data, level),
            current=since is None or event.at >= since,
        )
        for event in events
        if isinstance(event.data, Indication)
    )


def verdict(
    sheet: FieldSheet,
    events: Sequence[Event],
    tests: Sequence[Round],
    shown: Sequence[ShownIndication],
    cut_at: datetime | None,
) -> Verdict:
    """Failed by any indication that is not accepted; clean only when somebody said so."""
    bad = [one for one in shown if one.current and not one.judged.accepted]
    if bad:
        return Verdict(
            Proof.FAILED,
            f"Penetrant failed: {bad[0].judged.sentence} Grind it out and test again, or hand the "
            "track back only as a qualified person says.",
        )
    since = _since(tests, cut_at)
    clean = [
        event
        for event in events
        if event.kind is Kind.PENETRANT_CLEAN and (since is None or event.at >= since)
    ]
    if clean:
        return _clean(sheet, tests, cut_at)
    if sheet.penetrant is None:
        return Verdict(Proof.NOT_REQUIRED, "No penetrant test belongs to this track time.")
    return Verdict(Proof.OPEN, "The penetrant test is not read yet.")


def _clean(sheet: FieldSheet, tests: Sequence[Round], cut_at: datetime | None) -> Verdict:
    if sheet.penetrant is None:
        return Verdict(Proof.CLEAN, "Penetrant was called clean.")
    last = tests[-1] if tests else None
    if last is None or (cut_at is not None and last.applied_at < cut_at):
        return Verdict(
            Proof.DOUBTFUL, "Penetrant was called clean, but no application of it was recorded."
        )
    if last.read_at is None:
        return Verdict(
            Proof.DOUBTFUL, "Penetrant was called clean, but its reading was not recorded."
        )
    grave = [fault for fault in last.faults if "so the longer dwell counts" not in fault]
    if grave:
        return Verdict(Proof.DOUBTFUL, f"Penetrant was called clean, but: {grave[0]}")
    return Verdict(Proof.CLEAN, "Penetrant is clean.")


def _since(tests: Sequence[Round], cut_at: datetime | None) -> datetime | None:
    """From when on something shown or called clean is about the metal as it is now."""
    moments = [one for one in (tests[-1].applied_at if tests else None, cut_at) if one is not None]
    return max(moments, default=None)
