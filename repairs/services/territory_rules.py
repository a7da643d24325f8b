"""The rules each territory stands under: the law's sets with the railway's own figures."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence

from repairs.models import OwnerRule, TerritoryRules
from repairs.triage.owner import OwnerChange, OwnerRuleRefused, owner_rules
from repairs.triage.owner_figures import Figure
from repairs.triage.rules import FEDERAL, RuleSet, rule_sets
from turnouts.services.errors import Refused

Sets = tuple[RuleSet, ...]


def rules_by_territory(territories: Iterable[int]) -> dict[int, Sets]:
    """For each territory id the rule sets it stands under, in two queries.

    The railway's approved figures are laid over each; their days are in the rows. Raises Refused
    where approved figures cannot stand together, which the approval should have kept out.
    """
    wanted = set(territories)
    names = set_names(wanted)
    approved = approved_rules()
    return {
        territory: laid_over(names[territory], applying(approved, territory))
        for territory in wanted
    }


def set_names(territories: Collection[int]) -> dict[int, list[str]]:
    """The ids of the shipped sets each territory stands under; where none is named, the federal."""
    named: dict[int, list[str]] = defaultdict(list)
    for row in TerritoryRules.objects.filter(territory__in=territories):
        named[row.territory_id].append(row.rule_set)
    return {territory: named.get(territory, [FEDERAL]) for territory in territories}


def approved_rules() -> list[OwnerRule]:
    """Every approved rule of the railway, the oldest first, so that equal sets are equal."""
    return list(OwnerRule.objects.filter(state="approved").order_by("pk"))


def applying(rules: Iterable[OwnerRule], territory: int | None) -> list[OwnerRule]:
    """Those of all territories, and those of this one."""
    return [rule for rule in rules if rule.territory_id in (None, territory)]


def laid_over(names: Sequence[str], rules: Sequence[OwnerRule]) -> Sets:
    """The shipped sets with the figures over each set that has their row; Refused in its words."""
    shipped = rule_sets()
    try:
        return tuple(_with_own(shipped[name], rules) for name in names)
    except OwnerRuleRefused as refusal:
        raise Refused(str(refusal)) from refusal


def _with_own(base: RuleSet, rules: Sequence[OwnerRule]) -> RuleSet:
    held = {row.rule for row in base.rows()}
    return owner_rules(base, tuple(change_of(rule) for rule in rules if rule.rule in held))


def change_of(rule: OwnerRule) -> OwnerChange:
    """The row as the pure package takes it; one not yet approved as from its wished day."""
    return OwnerChange(
        rule=rule.rule,
        figure=Figure(rule.figure),
        value=rule.value,
        start=rule.begins_on or rule.starts_on,
        reason=rule.reason,
        track_class=rule.track_class,
        end=rule.ends_on,
    )
