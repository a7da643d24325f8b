"""What decisions can be asked for by: the machine's answer, and what holds."""

from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters  # type: ignore[import-untyped]

from repairs.models import Decision
from repairs.services.held import with_held
from turnouts.analysis.terms import Disposition
from turnouts.models.choices import choices

HOLDS = ("holds_traffic", "holds_disposition", "holds_due_until", "order")


class DecisionFilter(filters.FilterSet):  # type: ignore[misc]
    """``traffic`` and ``disposition`` are the rules' own answer; those that begin with ``holds``
    go by an engineer's word where there is one, and leave out decisions that were replaced."""

    holds_traffic = filters.ChoiceFilter(field_name="held_traffic", choices=Decision.TRAFFIC)
    holds_disposition = filters.ChoiceFilter(
        field_name="held_disposition", choices=choices(Disposition)
    )
    holds_due_until = filters.DateFilter(field_name="held_due_on", lookup_expr="lte")
    order = filters.OrderingFilter(fields=[("held_due_on", "holds_due_on")])

    class Meta:
        model = Decision
        fields = ["current", "traffic", "disposition", "defect__reference"]

    def filter_queryset(self, queryset: QuerySet[Decision]) -> Any:
        if any(self.form.cleaned_data.get(name) for name in HOLDS):
            queryset = with_held(queryset.filter(current=True), decision="", key="pk")
        return super().filter_queryset(queryset)
