"""The planning of the whole network: asked for here, followed as a run."""

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.viewsets import GenericViewSet

from planning.api import serializers
from planning.services.calendar import Week
from planning.services.network import KIND, request_network
from turnouts.api.reading import person_of
from turnouts.api.serializers import RunSerializer
from turnouts.models import LongRun


class NetworkPlanViewSet(GenericViewSet):  # type: ignore[type-arg]
    """One task a territory; idle shifts of shared crews are lent to where most is left undone."""

    queryset = LongRun.objects.filter(kind=KIND)
    serializer_class = serializers.NetworkRequestSerializer

    @extend_schema(responses={202: RunSerializer})
    def create(self, request: Request) -> Response:
        """Plan a week in every territory the caller plans for; the answer is the run."""
        form = self.get_serializer(data=request.data)
        form.is_valid(raise_exception=True)
        run, _ = request_network(
            by=person_of(request),
            week=Week(form.validated_data["week"]),
            request_key=form.validated_data["request_key"],
        )
        return Response(RunSerializer(run).data, status=202)
