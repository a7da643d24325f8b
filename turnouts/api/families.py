"""Groups of a family side by side for programs: wear in mm a MGT, ratios against the others."""

from dataclasses import asdict
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from turnouts.analysis.ranking.comparison_words import rests_on, summed_up
from turnouts.api.reading import VisibleRows, person_of
from turnouts.models import FamilyComparison
from turnouts.services.family_comparisons import comparison_for


class BriefComparisonSerializer(serializers.ModelSerializer[FamilyComparison]):
    """Which comparison it is; its detail holds the figures."""

    family = serializers.CharField(read_only=True)
    kind = serializers.CharField(read_only=True)
    design = serializers.CharField(read_only=True)
    steel = serializers.CharField(read_only=True)
    by = serializers.CharField(read_only=True)

    class Meta:
        model = FamilyComparison
        fields = ["id", "family", "kind", "design", "steel", "by", "components", "made_on"]


class FamilyComparisonSerializer(BriefComparisonSerializer):
    """One family by one fact; of lines and territories only the reader's own."""

    comparison = serializers.SerializerMethodField()

    class Meta(BriefComparisonSerializer.Meta):
        fields = [*BriefComparisonSerializer.Meta.fields, "comparison"]

    @extend_schema_field(OpenApiTypes.OBJECT)
    def get_comparison(self, row: FamilyComparison) -> dict[str, Any]:
        found = comparison_for(person_of(self.context["request"]), row)
        return asdict(found) | {
            "sentence": summed_up(found.looks),
            "rests_on": rests_on(found.by),
        }


class FamilyComparisonViewSet(VisibleRows):
    """Families split by a fact, as the last night compared their groups; people are never one."""

    queryset = FamilyComparison.objects.all()
    lookup_field = "pk"
    lookup_value_regex = "[0-9]+"
    filterset_fields = ["kind", "design", "steel", "by"]

    def get_queryset(self) -> QuerySet[Any]:
        """All of them: they are of the whole railway, and the detail leaves out what is not the
        reader's."""
        rows = FamilyComparison.objects.all()
        return rows if self.action == "retrieve" else rows.defer("content", "found")

    def get_serializer_class(self) -> type[serializers.BaseSerializer[Any]]:
        if self.action == "retrieve":
            return FamilyComparisonSerializer
        return BriefComparisonSerializer
