"""The trade's words as sets of choices, under the names the schema gives them."""

from turnouts.analysis.terms import ComponentKind, DefectKind, DefectState, Route
from turnouts.models.choices import choices

COMPONENT_KINDS = choices(ComponentKind)
DEFECT_KINDS = choices(DefectKind)
DEFECT_STATES = choices(DefectState)
ROUTES = choices(Route)
