"""Which components and defects a row speaks of."""

from dataclasses import dataclass

from repairs.triage.facts import ComponentFacts, DefectFacts
from turnouts.analysis.terms import ComponentKind, DefectKind, FrogDesign, Orientation, Steel, Zone


@dataclass(frozen=True, slots=True)
class Where:
    """The components and defects a row speaks of; an empty list speaks of all.

    ``castings`` true means manganese castings only, false everything else.
    """

    components: frozenset[ComponentKind] = frozenset()
    designs: frozenset[FrogDesign] = frozenset()
    steels: frozenset[Steel] = frozenset()
    castings: bool | None = None
    kinds: frozenset[DefectKind] = frozenset()
    zones: frozenset[Zone] = frozenset()
    not_zones: frozenset[Zone] = frozenset()
    orientations: frozenset[Orientation] = frozenset()
    not_orientations: frozenset[Orientation] = frozenset()

    def speaks_of_component(self, component: ComponentFacts) -> bool | None:
        """Whether the component is meant; ``None`` when a fact that decides it is not recorded."""
        if self.components and component.kind not in self.components:
            return False
        answers = (
            _one_of(component.design, self.designs),
            _one_of(component.steel, self.steels),
            True if self.castings is None else _same(is_casting(component), self.castings),
        )
        if False in answers:
            return False
        return None if None in answers else True

    def speaks_of_defect(self, defect: DefectFacts | None) -> bool | None:
        """Whether the defect is meant; with no defect only a row that speaks of all is."""
        if defect is None:
            return not (
                self.kinds
                or self.zones
                or self.not_zones
                or self.orientations
                or self.not_orientations
            )
        if self.kinds and defect.kind not in self.kinds:
            return False
        if defect.zone in self.not_zones or (self.zones and defect.zone not in self.zones):
            return False
        barred = bool(self.not_orientations) and _one_of(defect.orientation, self.not_orientations)
        if barred is not False:
            return None if barred is None else False
        return _one_of(defect.orientation, self.orientations)


_CAST = frozenset(
    {
        FrogDesign.SELF_GUARDED_MANGANESE,
        FrogDesign.RAIL_BOUND_MANGANESE,
        FrogDesign.CAST_CROSSING,
    }
)


def is_casting(component: ComponentFacts) -> bool | None:
    """Whether wheels run on a manganese casting; ``None`` when design and steel do not tell."""
    if component.kind is not ComponentKind.FROG:
        return False
    if component.design in _CAST or component.steel is Steel.MANGANESE:
        return True
    return None if component.steel is None else False


def _one_of(fact: object | None, wanted: frozenset[object]) -> bool | None:
    if not wanted:
        return True
    return None if fact is None else fact in wanted


def _same(fact: bool | None, wanted: bool) -> bool | None:
    return None if fact is None else fact is wanted
