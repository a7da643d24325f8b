"""The rows of the rail defect table: its lines, and the remedial actions they call for."""

from dataclasses import dataclass
from decimal import Decimal

from repairs.triage.decision import Effect
from repairs.triage.rows import Row
from repairs.triage.where import Where
from turnouts.analysis.terms import ComponentKind, HeadReach, RailFlaw


@dataclass(frozen=True, slots=True, kw_only=True)
class RailDefectRow(Row):
    """A line of the rail defect table: a length more than ``over`` and up to ``up_to``, in mm.

    ``share_from`` and ``share_under`` bound the share of the head in percent, the first included.
    ``heads`` are the states of a crack in bolt hole or web that the line is for; ``damaged`` is
    true for the line on rail hurt by wheels or a derailment. ``or_actions`` are the milder actions
    that the law lets a qualified person choose instead, and ``note`` what else the law says.
    """

    where: Where
    over: Decimal | None = None
    up_to: Decimal | None = None
    flaws: frozenset[RailFlaw] = frozenset()
    share_from: Decimal | None = None
    share_under: Decimal | None = None
    heads: frozenset[HeadReach] = frozenset()
    damaged: bool = False
    actions: tuple[str, ...]
    or_actions: tuple[str, ...] = ()
    note: str = ""

    @property
    def value_seen(self) -> str:
        actions = "+".join(self.actions)
        if self.or_actions:
            actions += f" or {'+'.join(self.or_actions)}"
        if self.share_from is not None:
            under = "" if self.share_under is None else f" to under {self.share_under}"
            return f"from {self.share_from}{under} % of the head: {actions}"
        band = f"over {self.over}" if self.over is not None else "any"
        return f"{band} up to {self.up_to} mm: {actions}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ActionRow(Row):
    """A remedial action of the rail defect table. ``cap_mph`` holds on ``capped_classes``."""

    letter: str
    effect: Effect
    cap_mph: Decimal | None = None
    capped_classes: frozenset[int] = frozenset()
    days: int | None = None
    needs_joint_bars: bool = False
    instead_for: frozenset[ComponentKind] = frozenset()
    instead: str = ""
    says: str

    @property
    def value_seen(self) -> str:
        return f"{self.cap_mph} mph, {self.days} days"
