"""How often engineers overrule, by the rule that had decided: which rules do not fit."""

from dataclasses import dataclass
from typing import Any

from django.db import connection

from turnouts.access import Action, territory_ids
from turnouts.models import Person

NO_LIMIT = "no limit passed"
"""Stands for decisions in which no rule restricted traffic: the choice of work was overruled."""

COUNTED = """
WITH seen AS (
    SELECT decision.id, decision.defect_id, decision.detail
    FROM repairs_decision decision
    JOIN turnouts_defect defect ON defect.id = decision.defect_id
    JOIN turnouts_turnout turnout ON turnout.id = defect.turnout_id
    JOIN turnouts_track track ON track.id = turnout.track_id
    JOIN turnouts_line line ON line.id = track.line_id
    WHERE %(everywhere)s OR line.territory_id = ANY(%(territories)s)
), deciding AS (
    SELECT seen.id, seen.defect_id,
        COALESCE(finding.value ->> 'rule_id', %(no_limit)s) AS rule,
        COALESCE(finding.value ->> 'clause', '') AS clause,
        COALESCE(finding.value ->> 'title', '') AS title
    FROM seen
    LEFT JOIN LATERAL jsonb_array_elements(seen.detail -> 'findings') AS finding
        ON finding.value ->> 'applies_to_traffic' = 'true'
)
SELECT deciding.rule, MAX(deciding.clause), MAX(deciding.title),
    COUNT(DISTINCT deciding.defect_id),
    COUNT(DISTINCT deciding.defect_id) FILTER (WHERE word.id IS NOT NULL),
    COUNT(DISTINCT deciding.defect_id) FILTER (WHERE word.milder)
FROM deciding
LEFT JOIN repairs_overrule word
    ON word.decision_id = deciding.id AND word.carried_from_id IS NULL
GROUP BY deciding.rule
ORDER BY 5 DESC, 4 DESC, 1
"""


@dataclass(frozen=True)
class Rate:
    """Of the defects a rule decided on, how many an engineer overruled, and to something milder."""

    rule: str
    clause: str
    title: str
    judged: int
    overruled: int
    milder: int

    @property
    def share(self) -> float:
        return self.overruled / self.judged


def overruling_rates(*, by: Person) -> list[Rate]:
    """The rate for each rule that decided in the person's territories, most overruled first.

    A defect counts once for each rule, however often it was judged.
    """
    where = territory_ids(by, Action.SEE)
    asked: dict[str, Any] = {
        "everywhere": where is None,
        "territories": sorted(where or ()),
        "no_limit": NO_LIMIT,
    }
    with connection.cursor() as cursor:
        cursor.execute(COUNTED, asked)
        return [Rate(*row) for row in cursor.fetchall()]
