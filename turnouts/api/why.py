"""The file of a component for programs: lengths in mm, tonnage in MGT."""

from typing import Any

from turnouts.analysis.evidence import NotEnough
from turnouts.analysis.recurrence.life_fits import life_sentence
from turnouts.analysis.recurrence.power_law import PowerLaw
from turnouts.analysis.wear.limits import Reach
from turnouts.services.component_file import ComponentFile, Measured, Recurrence


def as_answer(read: ComponentFile) -> dict[str, Any]:
    """The file as plain values; what cannot be said carries the sentence why."""
    return {
        "component": read.component.serial,
        "on": read.on,
        "turnout": read.turnout.code if read.turnout else None,
        "tonnage_known_from": read.life.clock.known_from,
        "family": None
        if read.family is None
        else {
            "components": read.family.components,
            "worked_out_for": read.family.on,
        },
        "rank": None
        if read.rank is None
        else {
            "place": read.rank.place,
            "of": read.rank.of,
            "relative_rate": read.rank.row.relative,
            "relative_rate_90": [read.rank.row.low, read.rank.row.high],
            "chance_worse": read.rank.row.chance_worse,
            "worked_out_for": read.rank.row.made_on,
        },
        "wear": [_wear(one) for one in read.measured],
        "recurrence": _recurrence(read.recurrence),
        "hints": [
            {
                "rule": hint.rule.rule,
                "title": hint.rule.title,
                "defect": hint.defect.reference,
                "evidence": hint.evidence,
                "look_next": hint.look_next,
                "source": hint.rule.source.title,
                "clause": hint.rule.clause,
            }
            for hint in read.hints.hints
        ],
        "unanswered": [one.sentence for one in read.hints.unanswered],
    }


def _wear(one: Measured) -> dict[str, Any]:
    quantity, route, behind = one.place
    named = {"quantity": quantity.value, "route": route, "behind_point_mm": behind}
    if isinstance(one.wear, NotEnough):
        return named | {"enough": False, "sentence": one.wear.sentence}
    low, high = one.wear.line.rate_interval()
    return named | {
        "enough": True,
        "began_mgt": one.run.began_mgt,
        "level_mm": one.wear.line.level,
        "mm_a_mgt": one.wear.line.rate,
        "mm_a_mgt_95": [low, high],
        "readings": one.wear.used,
        "left_out": [reading.reference for reading in one.wear.odd],
        "like_runs": one.wear.like_runs,
        "weight_of_own": one.wear.weight_of_own,
        "limits": [_reach(reach) for reach in one.wear.reaches],
    }


def _reach(reach: Reach) -> dict[str, Any]:
    return {
        "clause": reach.limit.name,
        "limit_mm": reach.limit.value,
        "not_less_than": not reach.limit.rising,
        "chance_now": reach.chance_now,
        "reached": [{"chance": one.chance, "on": one.on} for one in reach.crossings],
        "sentence": reach.sentence,
    }


def _recurrence(found: Recurrence | NotEnough) -> dict[str, Any]:
    if isinstance(found, NotEnough):
        return {"enough": False, "sentence": found.sentence}
    lasting = found.repairs
    return {
        "enough": True,
        "defects_mgt": found.own_history.events_mgt,
        "from_mgt": found.own_history.begins_mgt,
        "to_mgt": found.own_history.ends_mgt,
        "beta": found.law.beta if isinstance(found.law, PowerLaw) else None,
        "trend": found.law.sentence,
        "repairs": lasting.sentence if isinstance(lasting, NotEnough) else life_sentence(lasting),
        "family": found.family.sentence if found.family else None,
    }
