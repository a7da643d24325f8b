"""What this app tells a component's life line: decisions, slow orders, repairs, sheets, renewal."""

from collections.abc import Iterable
from decimal import Decimal

from django.urls import reverse

from repairs.models import Decision, FieldRecord, JobSheet, RenewalChoice, TrackRestriction
from turnouts.analysis.terms import DefectState, Disposition
from turnouts.lifeline import Event
from turnouts.models import Component, DefectStep

REPAIR_STATES = {
    DefectState.IN_WORK: "Repair begun",
    DefectState.REPAIRED: "Repaired",
    DefectState.PROVED: "Repair proved",
}


def decisions(component: Component) -> Iterable[Event]:
    """Each answer of the rules to one of the component's defects."""
    rows = Decision.objects.filter(defect__component=component).defer("detail")
    for row in rows.select_related("defect__turnout__track__line"):
        yield Event(
            row.decided_at,
            "Decision",
            f"{Disposition(row.disposition).label}: {row.get_traffic_display().lower()}",
            reverse("defect", args=[row.defect.reference]),
            row.sentence,
            row.defect.turnout.track.line.territory_id,
        )


def repairs(component: Component) -> Iterable[Event]:
    """When a repair was begun, ended and proved."""
    steps = DefectStep.objects.filter(defect__component=component, state__in=REPAIR_STATES)
    for step in steps.select_related("defect__turnout__track__line"):
        yield Event(
            step.at,
            "Repair",
            REPAIR_STATES[DefectState(step.state)],
            reverse("defect", args=[step.defect.reference]),
            f"{step.defect.reference}{f': {step.note}' if step.note else ''}",
            step.defect.turnout.track.line.territory_id,
        )


def job_sheets(component: Component) -> Iterable[Event]:
    """Each job sheet when it was issued."""
    rows = JobSheet.objects.filter(job__component=component).defer("content")
    for row in rows.select_related("job__turnout__track__line"):
        withdrawn = ", withdrawn" if row.withdrawn_at else ""
        yield Event(
            row.issued_at,
            "Job sheet",
            f"Job sheet {row.number}{withdrawn}",
            reverse("job-sheet", args=[row.number]),
            f"{Disposition(row.job.disposition).label}, {row.crew}",
            row.job.turnout.track.line.territory_id,
        )


def slow_orders(component: Component) -> Iterable[Event]:
    """Where trains had to run slower or to stop: by the rules, and at the hand back of a job."""
    rows = Decision.objects.filter(
        defect__component=component, traffic__in=["restricted", "stop"]
    ).defer("detail")
    for row in rows.select_related("defect__turnout__track__line"):
        yield Event(
            row.decided_at,
            "Slow order",
            f"{row.get_traffic_display()} by the rules",
            reverse("defect", args=[row.defect.reference]),
            row.sentence,
            row.defect.turnout.track.line.territory_id,
        )
    held = TrackRestriction.objects.filter(sheet__job__component=component)
    for one in held.select_related("sheet__job__turnout__track__line"):
        yield Event(
            one.proposed_at,
            "Slow order",
            "Closed to traffic" if one.speed_kmh is None else "Restricted speed after the work",
            reverse("job-sheet-record", args=[one.sheet.number]),
            one.reason,
            one.sheet.job.turnout.track.line.territory_id,
        )


def renewal_choices(component: Component) -> Iterable[Event]:
    """Each decision of an engineer to weld again or to replace."""
    rows = RenewalChoice.objects.filter(component=component).defer("detail")
    for row in rows.select_related("by", "turnout__track__line"):
        yield Event(
            row.at,
            "Weld or replace",
            row.words,
            reverse("weld-or-replace", args=[component.serial]),
            f"{row.by}: {row.reason}",
            row.turnout.track.line.territory_id,
        )


def records(component: Component) -> Iterable[Event]:
    """Each signed record of work on it: what came of the job, and the tonnage it had carried."""
    rows = FieldRecord.objects.filter(sheet__job__component=component).order_by("serial")
    for at, kind, number, name, role, closed, mgt, went, territory in rows.values_list(
        "signed_at",
        "kind",
        "sheet__number",
        "signed_name",
        "role",
        "content__closed",
        "content__tonnage_mgt",
        "content__state__deviations",
        "sheet__job__turnout__track__line__territory_id",
    ):
        said = [f"{name}, {role}"]
        said += [f"job {closed['job_state'].replace('_', ' ')}"] if closed else []
        said += [f"{Decimal(mgt):.1f} MGT had passed over it"] if mgt else []
        said += [f"{len(went)} departure{'s'[: len(went) > 1]} from the sheet"] if went else []
        yield Event(
            at,
            "Record",
            f"Record of {number} {'signed' if kind == 'signed' else 'corrected'}",
            reverse("job-sheet-record", args=[number]),
            "; ".join(said),
            territory,
        )
