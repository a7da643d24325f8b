"""What signed records teach: stage times and material by procedure, and how the forecasts did."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from repairs.field.events import TrackState
from repairs.field.sheet import FieldSheet, SheetStage, sheet_facts
from repairs.models import FieldRecord
from repairs.services.lance_in_force import lance_in_force
from repairs.welding.calibration import Outcome
from repairs.welding.learning import Experience, Record, experience, stage_record
from repairs.welding.procedure_files import all_editions
from repairs.welding.refusals import OutsideValidity
from repairs.welding.rows_toml import rows_of
from repairs.welding.timeline import Stage
from turnouts.access import Action, visible
from turnouts.models import Person


@dataclass
class Taught:
    """Records of one procedure, and a sentence for each figure that could not be one."""

    stages: list[Record] = field(default_factory=list)
    materials: list[Record] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class _Signed:
    """The last signed word on one sheet."""

    number: str
    procedure: str
    crew: str
    facts: FieldSheet
    materials: Mapping[str, float]
    times: Mapping[str, float]
    state: Mapping[str, Any]


def stage_records(procedure: str) -> list[Record]:
    """Stage times of one procedure from signed records, by crew, against what the rows alone say.

    Stages that were interrupted or repeated, and sheets issued before the rows' own medians were
    kept on them, teach nothing.
    """
    return taught().get(procedure, Taught()).stages


def material_records(procedure: str) -> list[Record]:
    """Material used by signed records of one procedure, against the median of its sheet."""
    return taught().get(procedure, Taught()).materials


def taught() -> dict[str, Taught]:
    """All that signed records teach, by procedure, in one reading."""
    found: dict[str, Taught] = {}
    for one in _signed(FieldRecord.objects.all()):
        _teach(one, found.setdefault(one.procedure, Taught()))
    return found


def learnt() -> dict[str, Experience]:
    """What is known of each procedure on file, any crew; the lance is the same for all of them."""
    sigmas = {
        kind: rows.number("sigma") for kind, rows in rows_of("stages").items() if "sigma" in rows
    }
    used = {
        key: rows.number("sigma") for key, rows in rows_of("materials").items() if "sigma" in rows
    }
    found, lance = taught(), lance_in_force()
    return {
        procedure: experience(
            one.stages,
            [m for m in one.materials if m.kind in used],
            sigmas,
            used,
            lance_w_per_m2_k=lance.w_per_m2_k if lance else None,
        )
        for procedure, one in ({name: Taught() for name in all_editions()} | found).items()
    }


def outcomes(reader: Person) -> list[Outcome]:
    """Finished jobs the reader may see: their times as forecast, and what they took.

    Only jobs that ended with the track restored: what was broken off did not take its whole time.
    """
    rows = visible(reader, FieldRecord.objects.all(), Action.SEE_SHEETS)
    return [
        Outcome(
            one.number,
            one.times["p50_min"],
            one.times["p80_min"],
            one.times["p95_min"],
            minutes,
        )
        for one in _signed(rows)
        if one.state["track"] == TrackState.RESTORED.value and (minutes := _took(one)) > 0
    ]


def _signed(rows: Any) -> Iterable[_Signed]:
    """The latest record of each sheet, without the entries it froze."""
    latest = rows.order_by("sheet_id", "-number").distinct("sheet_id")
    for row in latest.values_list(
        "sheet__number", "sheet__job__procedure", "sheet__crew", "sheet__content", "content__state"
    ):
        number, procedure, crew, content, state = row
        used = {m["key"]: m["quantity"] for m in content["materials"]}
        facts = sheet_facts(number, content)
        yield _Signed(number, procedure, crew, facts, used, content["times"], state)


def _teach(one: _Signed, into: Taught) -> None:
    for stage in one.facts.stages:
        went = next(s for s in one.state["stages"] if s["key"] == stage.key)
        if _counts(stage, went):
            try:
                into.stages.append(
                    stage_record(_by_rows(stage), one.crew, went["took_min"], went["waited_min"])
                )
            except OutsideValidity as fault:
                into.refused.append(f"{one.number}: {fault}")
    for key, quantity in one.state["materials"].items():
        try:
            into.materials.append(Record(key, one.crew, one.materials[key], float(quantity)))
        except OutsideValidity as fault:
            into.refused.append(f"{one.number}: {fault}")


def _counts(stage: SheetStage, went: Mapping[str, Any]) -> bool:
    return (
        stage.rows_work_min is not None
        and went["state"] == "done"
        and went["took_min"] is not None
        and not went["interrupted"]
        and not went["repeated"]
    )


def _by_rows(stage: SheetStage) -> Stage:
    return Stage(
        stage.key,
        stage.name,
        stage.fixed_min,
        stage.rows_work_min or 0.0,
        stage.sigma,
        stage.wait_min,
    )


def _took(one: _Signed) -> float:
    """Minutes from the first stage's start to the last one's end."""
    starts = [s["started_at"] for s in one.state["stages"] if s["started_at"]]
    ends = [s["ended_at"] for s in one.state["stages"] if s["ended_at"]]
    if not starts or not ends:
        return 0.0
    begun = min(datetime.fromisoformat(at) for at in starts)
    return (max(datetime.fromisoformat(at) for at in ends) - begun).total_seconds() / 60


def taught_seen() -> list[tuple[str, list[str]]]:
    """For each procedure, what was learnt in sentences; crews are pooled and never ranked."""
    return [
        (procedure, [one.sentence for one in known.stages.values()])
        for procedure, known in sorted(learnt().items())
    ]
