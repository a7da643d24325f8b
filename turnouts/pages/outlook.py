"""Repeat offenders and early warnings, as the last night worked them out."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil
from uuid import uuid4

from django.db.models import Count, Max, Q, QuerySet
from django.db.models.functions import Round
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from turnouts.access import Action, may, visible
from turnouts.analysis.ranking.pictures import FUNNEL_CHANCES, FunnelLimit, funnel
from turnouts.models import ComponentRank, EarlyWarning, LongRun, Territory
from turnouts.pages.asking import Asked, asked_choice, asked_code, one_page, page
from turnouts.pages.pareto import by_component, by_sort, paretos
from turnouts.pages.pictures import Level, Point, Tick
from turnouts.pages.why import csv_answer
from turnouts.pages.why_drawing import Axes
from turnouts.services.outlook import request_outlook
from turnouts.services.runs import with_progress

REPEAT_COLUMNS = ("component", "turnout", "family", "events", "expected", "relative_rate",
                  "low_90", "high_90", "chance_worse", "chance_twice", "made_on")  # fmt: skip
PARETO_COLUMNS = ("of", "name", "defects", "share", "share_so_far")
WARNING_COLUMNS = ("component", "turnout", "quantity", "route", "clause", "limit_mm", "next_look",
                   "look_by", "chance_now", "chance", "made_on")  # fmt: skip
GRID = 24
HIGHEST_RATIO = 6.0
"""Where the funnel's picture ends; a component above it is drawn at its edge."""


@dataclass(frozen=True)
class Funnel:
    """Observed over expected against expected: all as dots, the offenders as named points."""

    levels: list[Level]
    ticks: list[Tick]
    bounds: list[str]
    dots: str
    offenders: list[Point]
    usual_y: float
    width: int = 460
    height: int = 220
    left: int = 56
    right: int = 446
    floor: int = 172


@page(Action.SEE)
def repeat(request: Asked) -> HttpResponse:
    """Components against their like, the surest first; by family or territory if asked."""
    rows = _ranks(request)
    families = visible(request.user, ComponentRank.objects.order_by("family"))
    held = rows.aggregate(
        ranked=Count("pk"),
        sure=Count("pk", filter=Q(repeat_offender=True)),
        most=Max("expected"),
        made_on=Max("made_on"),
    )
    figures = list(
        rows.filter(events__gt=0).values_list(
            "component__serial", "events", "expected", "repeat_offender"
        )
    )
    context = {
        "page": one_page(request, rows),
        "funnel": _funnel(figures, _unharmed(rows), held["most"]) if held["ranked"] else None,
        "paretos": paretos(request.user, rows, {one[0]: one[1] for one in figures}),
        "families": families.values_list("family", flat=True).distinct(),
        "territories": visible(request.user, Territory.objects.all()),
        "asked": request.GET,
        **held,
    }
    return render(request, "turnouts/repeat.html", context)


@page(Action.SEE)
def repeat_csv(request: Asked) -> HttpResponse:
    """The same as a table for a spreadsheet."""
    lines = (
        (
            row.component.serial,
            row.turnout.code,
            row.family,
            str(row.events),
            *(
                f"{figure:.3f}"
                for figure in (
                    row.expected, row.relative, row.low, row.high, row.chance_worse,
                    row.chance_twice,
                )
            ),
            f"{row.made_on}",
        )
        for row in _ranks(request)
    )  # fmt: skip
    return csv_answer("repeat-offenders", REPEAT_COLUMNS, lines)


@page(Action.SEE)
def pareto_csv(request: Asked) -> HttpResponse:
    """Every bar of both Pareto pictures."""
    rows = _ranks(request)
    lines = (
        (what, bar.name, str(bar.count), f"{bar.share:.4f}", f"{bar.share_so_far:.4f}")
        for what, bars in (
            ("component", by_component(rows)),
            ("kind and zone", by_sort(request.user, rows)),
        )
        for bar in bars
    )
    return csv_answer("defects-by-count", PARETO_COLUMNS, lines)


def _ranks(request: Asked) -> QuerySet[ComponentRank]:
    rows = visible(request.user, ComponentRank.objects.select_related("component", "turnout"))
    families = rows.values_list("family", flat=True).distinct()
    if family := asked_choice(request, "family", families):
        rows = rows.filter(family=family)
    if territory := asked_code(request, "territory", Territory.objects.all()):
        rows = rows.filter(turnout__track__line__territory__code=territory)
    return rows


def _low(limit: FunnelLimit) -> float:
    return limit.low


def _high(limit: FunnelLimit) -> float:
    return limit.high


def _unharmed(rows: QuerySet[ComponentRank]) -> Iterable[float]:
    """Where components without a defect stand along the funnel, each place once.

    They are most of a large railway and lie on one line: a dot for each would be paid for with a
    slow page, and not be seen.
    """
    places = rows.filter(events=0).annotate(at=Round("expected", precision=2))
    return places.order_by().values_list("at", flat=True).distinct()


def _funnel(
    figures: list[tuple[str, int, float, bool]], unharmed: Iterable[float], most: float
) -> Funnel:
    ratios = [min(events / expected, HIGHEST_RATIO) for _, events, expected, _ in figures]
    axes = Axes([0.0, ceil(most)], [0.0, max([2.0, *ratios])])
    limits = funnel([most * (n + 1) / GRID for n in range(GRID)])
    sides = [
        [(one.expected, edge(one)) for one in limits if one.chance == chance]
        for chance in FUNNEL_CHANCES
        for edge in (_low, _high)
    ]
    bounds = [axes.path([(x, min(y, axes.high)) for x, y in side]) for side in sides]
    places = [
        (serial, axes.x(expected), axes.y(ratio), events, offends)
        for (serial, events, expected, offends), ratio in zip(figures, ratios, strict=True)
    ]
    dots = [(axes.x(expected), axes.y(0.0)) for expected in unharmed]
    dots += [(x, y) for _, x, y, _, offends in places if not offends]
    return Funnel(
        levels=axes.levels(),
        ticks=axes.ticks(),
        bounds=bounds,
        dots=" ".join(f"M{x} {y}h0" for x, y in dict.fromkeys(dots)),
        offenders=[
            Point(x, y, f"{serial}: {events} defects")
            for serial, x, y, events, offends in places
            if offends
        ],
        usual_y=axes.y(1.0),
    )


@page(Action.SEE)
def warnings(request: Asked) -> HttpResponse:
    """What may reach a limit before it is measured again, the likeliest first."""
    rows, last = _standing(request)
    context = {
        "page": one_page(request, rows),
        "last": last,
        "territories": visible(request.user, Territory.objects.all()),
        "asked": request.GET,
        "may_ask": may(request.user, Action.ESTIMATE),
        "run": _asked_run(request),
        "key": uuid4(),
    }
    return render(request, "turnouts/early_warnings.html", context)


def _asked_run(request: Asked) -> LongRun | None:
    """The look ahead this reader has just asked for, with how far it is."""
    asked = request.GET.get("run", "")
    if not asked.isdecimal():
        return None
    return with_progress(get_object_or_404(LongRun, pk=asked, requested_by=request.user))


@require_POST
@page(Action.ESTIMATE)
def look_ahead_now(request: Asked) -> HttpResponse:
    """Queue a look ahead of today; a second click finds the run of the first."""
    key = f"look ahead {request.user.pk} {request.POST.get('key', '')}"[:80]
    run = request_outlook(by=request.user, on=timezone.localdate(), request_key=key)
    return redirect(f"{reverse('early-warnings')}?run={run.pk}")


@page(Action.SEE)
def warnings_csv(request: Asked) -> HttpResponse:
    """The same as a table for a spreadsheet."""
    rows, _ = _standing(request)
    lines = (
        (
            row.component.serial,
            row.turnout.code,
            row.quantity,
            row.route,
            row.clause,
            f"{row.limit_mm.normalize():f}",
            f"{row.next_look_on}",
            row.look_by or "usual gap",
            f"{row.chance_now:.3f}",
            f"{row.chance:.3f}",
            f"{row.made_on}",
        )
        for row in rows
    )
    return csv_answer("early-warnings", WARNING_COLUMNS, lines)


def _standing(request: Asked) -> tuple[QuerySet[EarlyWarning], object]:
    """The warnings the last night stood by, and which night that was."""
    last = EarlyWarning.objects.aggregate(last=Max("stands_on"))["last"]
    rows = visible(request.user, EarlyWarning.objects.filter(stands_on=last)).select_related(
        "component", "turnout"
    )
    if territory := asked_code(request, "territory", Territory.objects.all()):
        rows = rows.filter(turnout__track__line__territory__code=territory)
    return rows, last
