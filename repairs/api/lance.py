"""The cooling under the air lance for programs: read, take over what a fit gives, answer."""

from typing import Any
from uuid import uuid4

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from repairs.api.answered import ANSWER_FIELDS, AnsweredSerializer
from repairs.api.rules import AnswerSerializer
from repairs.models import LanceCooling
from repairs.services import lance as service
from repairs.services.cooling import newest_cooling_fit
from repairs.services.lance_preview import request_lance_preview
from turnouts.access import Action, require
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.serializers import RunSerializer


class LanceFitSerializer(serializers.Serializer[Any]):
    sheet = serializers.CharField()
    value = serializers.FloatField(help_text="W/(m2 K)")
    sd = serializers.FloatField(help_text="W/(m2 K)")


class LanceCoolingSerializer(AnsweredSerializer):
    """``w_per_m2_k`` is known to the factor ``spread``; ``stood`` was in force when proposed."""

    fits = LanceFitSerializer(many=True, read_only=True)

    class Meta:
        model = LanceCooling
        fields = ["id", "w_per_m2_k", "spread", "fits", "stood", *ANSWER_FIELDS]


class NewLanceCoolingSerializer(serializers.Serializer[Any]):
    reason = serializers.CharField(max_length=service.LETTERS)


class LanceCoolingViewSet(viewsets.ReadOnlyModelViewSet):  # type: ignore[type-arg]
    """Of those approved, the one approved last is what estimates reckon with."""

    queryset = LanceCooling.objects.select_related("proposed_by", "answered_by")
    serializer_class = LanceCoolingSerializer
    filterset_fields = ["state"]
    lookup_value_regex = "[0-9]+"

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(person_of(request), Action.ESTIMATE)

    @extend_schema(
        request=NewLanceCoolingSerializer,
        responses={201: LanceCoolingSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def create(self, request: Request) -> Response:
        """Propose what one's own newest fit gives; it takes a second engineer's approval."""
        given = NewLanceCoolingSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        by = person_of(request)
        made = service.propose_lance(
            by=by, run=newest_cooling_fit(by), at=timezone.now(), **given.validated_data
        )
        return Response(LanceCoolingSerializer(made).data, status=201)

    @extend_schema(request=None, responses={202: RunSerializer}, parameters=[KEY_PARAMETER])
    @action(detail=True, methods=["post"])
    @once
    def preview(self, request: Request, pk: str) -> Response:
        """Estimate some waiting jobs with the present cooling and this one; the run has both."""
        run = request_lance_preview(
            by=person_of(request),
            lance=self.get_object(),
            on=timezone.localdate(),
            request_key=f"lance preview {uuid4()}",
        )
        return Response(RunSerializer(run).data, status=202)

    @extend_schema(request=AnswerSerializer, responses={202: RunSerializer})
    @action(detail=True, methods=["post"])
    def approve(self, request: Request, pk: str) -> Response:
        """Approve as the second engineer; the run estimates waiting jobs anew."""
        run = service.approve_lance(
            by=person_of(request),
            lance=self.get_object(),
            on=timezone.localdate(),
            at=timezone.now(),
            note=_note(request),
        )
        return Response(RunSerializer(run).data, status=202)

    @extend_schema(request=AnswerSerializer, responses=LanceCoolingSerializer)
    @action(detail=True, methods=["post"])
    def reject(self, request: Request, pk: str) -> Response:
        """Reject as the second engineer, with words."""
        row = service.reject_lance(
            by=person_of(request), lance=self.get_object(), note=_note(request), at=timezone.now()
        )
        return Response(LanceCoolingSerializer(row).data)


def _note(request: Request) -> str:
    given = AnswerSerializer(data=request.data)
    given.is_valid(raise_exception=True)
    return str(given.validated_data["note"])
