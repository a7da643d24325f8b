"""Pareto pictures: which few components and which few sorts of defect make most of the trouble."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Count, QuerySet

from turnouts.access import visible
from turnouts.analysis.ranking.pictures import ParetoBar, pareto
from turnouts.analysis.terms import DefectKind, Zone
from turnouts.models import ComponentRank, Defect, Person
from turnouts.pages.pictures import Point, Tick

MOST_BARS = 12
"""Bars drawn; the CSV has all."""

NAMES, RIGHT, WIDTH, ROW, TOP = 170, 52, 560, 24, 24


@dataclass(frozen=True)
class Drawn:
    """One bar with its length, and where the share so far stands."""

    bar: ParetoBar
    y: float
    length: float

    @property
    def share(self) -> str:
        return f"{100 * self.bar.share:.1f} %"

    @property
    def so_far(self) -> str:
        return f"{100 * self.bar.share_so_far:.1f} %"


@dataclass(frozen=True)
class Pareto:
    """Bars, the largest first, with the running share as a line of rings; ``more`` are left out."""

    title: str
    what: str
    sentence: str
    bars: list[Drawn]
    shares: list[Point]
    line: str
    ticks: list[Tick]
    more: int
    width: int
    height: float
    left: int
    floor: float


def paretos(
    reader: Person, ranks: QuerySet[ComponentRank], counts: Mapping[str, int]
) -> list[Pareto]:
    """Of the ranked components asked for: defects by component, from their ``counts`` by serial,
    and by kind and zone."""
    drawn = [
        _drawn("Defects by component", "component", pareto(counts)),
        _drawn("Defects by kind and zone", "kind and zone", by_sort(reader, ranks)),
    ]
    return [one for one in drawn if one is not None]


def by_component(ranks: QuerySet[ComponentRank]) -> tuple[ParetoBar, ...]:
    """The defects that were counted in the ranking."""
    return pareto(dict(ranks.order_by().values_list("component__serial", "events")))


def by_sort(reader: Person, ranks: QuerySet[ComponentRank]) -> tuple[ParetoBar, ...]:
    """All defects of the same components, as far as the reader may see where they were found."""
    rows = visible(reader, Defect.objects.filter(component__in=ranks.values("component")))
    counts: Mapping[tuple[str, str], int] = {
        (kind, zone): count
        for kind, zone, count in rows.order_by()
        .values_list("kind", "zone")
        .annotate(count=Count("pk"))
    }
    return pareto(
        {
            f"{DefectKind(kind).label}, {Zone(zone).label.lower()}": count
            for (kind, zone), count in counts.items()
        }
    )


def _drawn(title: str, what: str, bars: tuple[ParetoBar, ...]) -> Pareto | None:
    if not bars:
        return None
    span, most = WIDTH - RIGHT - NAMES, bars[0].count
    shown = bars[:MOST_BARS]
    drawn = [
        Drawn(bar, TOP + ROW * (n + 0.5), round(span * bar.count / most, 1))
        for n, bar in enumerate(shown)
    ]
    shares = [
        Point(
            round(NAMES + span * one.bar.share_so_far, 1),
            one.y,
            f"{one.bar.share_so_far:.0%} up to and with {one.bar.name}",
        )
        for one in drawn
    ]
    return Pareto(
        title=title,
        what=what,
        sentence=_sentence(what, bars),
        bars=drawn,
        shares=shares,
        line=" ".join(f"{point.x},{point.y}" for point in shares),
        ticks=[Tick(NAMES + span * n / 4, f"{25 * n} %") for n in range(5)],
        more=len(bars) - len(shown),
        width=WIDTH,
        height=TOP + ROW * len(shown) + 8,
        left=NAMES,
        floor=TOP + ROW * len(shown),
    )


def _sentence(what: str, bars: tuple[ParetoBar, ...]) -> str:
    half = next(n for n, bar in enumerate(bars, 1) if bar.share_so_far >= 0.5)
    whole = sum(bar.count for bar in bars)
    named = {"component": "components", "kind and zone": "sorts"}[what]
    return (
        f"{half} of {len(bars)} {named} with defects hold half of all {whole}. Counts alone: who "
        "carries more tonnage has more, so they are no verdict; the ranking allows for that."
    )
