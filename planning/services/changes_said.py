"""What would let a left-out job in, said for the supervisor: by names and clock times."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils import timezone

from planning.models import Crew, WorkWindow
from planning.services.calendar import Week
from planning.services.questions import day_names
from planning.solver.plan import Change
from planning.solver.problem import Problem


@dataclass(frozen=True, slots=True)
class Names:
    """Crews and windows by their codes, as people know them."""

    week: Week
    crews: Mapping[str, str]
    windows: Mapping[str, WorkWindow]


def names_of(problem: Problem, week: Week) -> Names:
    """Read in two queries, whatever the size of the week."""
    crews = Crew.objects.filter(code__in=[crew.id for crew in problem.crews])
    wanted = [window.id for window in problem.windows]
    windows = WorkWindow.objects.filter(reference__in=wanted).select_related("track__line")
    return Names(
        week,
        dict(crews.values_list("code", "name")),
        {window.reference: window for window in windows},
    )


def said_change(change: Change, names: Names) -> str:
    """In words; a change without a crew or window of its own, as the planner says it."""
    crew = names.crews.get(change.crew or "", change.crew or "")
    day = "" if change.day is None else day_names([change.day])
    row = names.windows.get(change.window or "")
    if change.kind == "window" and row is not None:
        return (
            f"Track time {_when(row)} on {row.track.line.name}, {row.track.name} longer by "
            f"{change.amount:g} min; {crew} would do it ({row.reference})."
        )
    if change.kind == "overtime":
        return f"{crew} working {change.amount:g} min longer in the shift of {day}."
    if change.kind == "qualified":
        what = change.what.partition(" with ")[2].partition(" in crew ")[0]
        return f"One more person qualified for {what.replace('_', ' ')} in {crew} on {day}."
    if change.kind == "stock":
        item = (change.item or "").replace("_", " ")
        return f"{change.amount:g} more of {item} at the depot by {day}; {crew} would do it."
    return change.what


def _when(row: WorkWindow) -> str:
    begins, ends = timezone.localtime(row.starts_at), timezone.localtime(row.ends_at)
    return f"{begins:%a} {begins.day} {begins:%b %H:%M} to {ends:%H:%M}"
