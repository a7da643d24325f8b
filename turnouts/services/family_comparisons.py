"""Every family split by every fact, once a night; and read as far as the reader may see.

A family is all components of a kind, or those of one design and steel. What is compared is worked
out over the whole railway; of lines and territories each reader is shown their own.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from turnouts.access import visible
from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.ranking.comparison import (
    Comparison,
    Look,
    Measure,
    Member,
    Part,
    compare_family,
    over_all,
)
from turnouts.analysis.recurrence.log_rank import By
from turnouts.analysis.recurrence.mean_cumulative import Step
from turnouts.models import (
    Component,
    FamilyComparison,
    Installation,
    Line,
    LongRun,
    Person,
    Territory,
)
from turnouts.services.component_rows import records_begin
from turnouts.services.family_members import members_of, named_line
from turnouts.services.runs import Progress, start_run

TASK = "turnouts.compare_families"

Family = tuple[str, str, str]


@dataclass(frozen=True)
class _Split:
    """A family by one fact, before it is written."""

    family: Family
    components: int
    comparison: Comparison


def compare_tonight(*, at: datetime, by: Person) -> LongRun:
    """Queue the comparisons as on the day of ``at``; once a day, however often it is asked.

    ``by`` is who stands behind the steps of the night.
    """
    day = timezone.localdate(at)
    run, _ = start_run(
        kind="comparisons",
        request_key=f"nightly comparisons {day}",
        by=by,
        asked={"on": day.isoformat()},
        task=TASK,
    )
    return run


def carry_out_comparisons(run: LongRun, progress: Progress) -> dict[str, Any]:
    """Compare for a run; its result says how many comparisons were made."""
    return renew_comparisons(on=date.fromisoformat(run.asked["on"]), progress=progress)


@transaction.atomic
def renew_comparisons(*, on: date, progress: Progress) -> dict[str, Any]:
    """Write all comparisons anew, as of the end of a day."""
    begins, splits, lacking = records_begin(), list[_Split](), 0
    stood = Component.objects.filter(pk__in=Installation.objects.values("component"))
    families = sorted(stood.order_by().values_list("kind", "design", "steel").distinct())
    kinds = sorted({kind for kind, _, _ in families})
    for done, kind in enumerate(kinds):
        narrow = {
            family: members_of(
                stood.filter(kind=kind, design=family[1], steel=family[2]), begins, on
            )
            for family in families
            if family[0] == kind
        }
        for family, members in _wide_and_narrow(kind, narrow):
            more = list(_split(family, members))
            splits += more
            lacking += len(By) - len(more)
        progress(done + 1, len(kinds), f"Compared {kind.replace('_', ' ')}s")
    found = _write(splits, on)
    return {"comparisons": len(splits), "not_enough": lacking, "found": found}


def _wide_and_narrow(
    kind: str, narrow: Mapping[Family, Sequence[Member]]
) -> Iterator[tuple[Family, Sequence[Member]]]:
    """All of a kind together; where it has several designs or steels, each by itself too."""
    yield (kind, "", ""), [member for members in narrow.values() for member in members]
    if len(narrow) > 1:
        yield from narrow.items()


def _split(family: Family, members: Sequence[Member]) -> Iterator[_Split]:
    for by in By:
        comparison = compare_family(members, by)
        if not isinstance(comparison, NotEnough):
            yield _Split(family, len(members), comparison)


def _write(splits: Sequence[_Split], on: date) -> int:
    FamilyComparison.objects.all().delete()
    told = over_all([split.comparison for split in splits])
    rows = [
        FamilyComparison(
            kind=split.family[0],
            design=split.family[1],
            steel=split.family[2],
            by=comparison.by.value,
            components=split.components,
            content=asdict(comparison),
            found=[asdict(x) for x in comparison.looks if x.stands_out and x.worse],
            made_on=on,
        )
        for split, comparison in zip(splits, told, strict=True)
    ]
    FamilyComparison.objects.bulk_create(rows)
    return sum(len(row.found) for row in rows)


def comparison_for(reader: Person, row: FamilyComparison) -> Comparison:
    """The comparison of a row, of lines and territories those that the reader may see."""
    kept = row.content
    whole = Comparison(
        by=By(kept["by"]),
        parts=tuple(_part(part) for part in kept["parts"]),
        looks=tuple(_look(look) for look in kept["looks"]),
        too_few=tuple(kept["too_few"]),
        without=kept["without"],
    )
    seen = _seen(reader, whole.by)
    if seen is None:
        return whole
    return replace(
        whole,
        parts=tuple(part for part in whole.parts if part.name in seen),
        looks=tuple(look for look in whole.looks if look.group in seen),
        too_few=tuple(
            said for said in whole.too_few if any(f", {name}: " in said for name in seen)
        ),
    )


def findings_for(reader: Person) -> list[tuple[FamilyComparison, Look]]:
    """What is worse over the whole night, the surest first, as far as the reader may see it."""
    rows = FamilyComparison.objects.exclude(found=[]).defer("content")
    seen = {by: _seen(reader, by) for by in (By.TERRITORY, By.LINE)}
    found = [(row, _look(look)) for row in rows for look in row.found]
    kept = [
        (row, look)
        for row, look in found
        if (names := seen.get(By(row.by))) is None or look.group in names
    ]
    return sorted(kept, key=lambda pair: pair[1].p)


def _look(given: dict[str, Any]) -> Look:
    return Look(**given | {"measure": Measure(given["measure"])})


def _part(given: dict[str, Any]) -> Part:
    steps, half = tuple(Step(**step) for step in given["steps"]), given["half_life_mgt"]
    return Part(**given | {"steps": steps, "half_life_mgt": None if half is None else tuple(half)})


def _seen(reader: Person, by: By) -> set[str] | None:
    """The names of lines or territories the reader may see; ``None`` where it is about neither."""
    if by is By.TERRITORY:
        return set(visible(reader, Territory.objects.all()).values_list("name", flat=True))
    if by is By.LINE:
        return {named_line(line) for line in visible(reader, Line.objects.all())}
    return None
