"""Welding procedures and the railway's own editions for programs."""

from typing import Any

from django.http import Http404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from repairs.api.procedure_serializers import (
    EditionAnswerSerializer,
    EditionApprovalSerializer,
    EditionPreviewSerializer,
    EditionProposalSerializer,
    EditionSerializer,
    ProcedureSerializer,
)
from repairs.models import OwnerProcedure
from repairs.services import own_procedures as service
from repairs.services.editions import approved_editions, typed_value
from repairs.services.procedure_preview import request_procedure_preview
from repairs.welding.own_editions import Change
from repairs.welding.procedures import Procedure, all_editions, procedure_in_force
from repairs.welding.refusals import NoProcedure
from turnouts.access import Action, require
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.serializers import RunSerializer
from turnouts.models import LongRun


class ProcedureViewSet(viewsets.ViewSet):
    """The welding procedures in force today, the railway's own editions before those shipped."""

    lookup_value_regex = "[^/]+"

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(person_of(request), Action.SEE)

    @extend_schema(responses=ProcedureSerializer(many=True))
    def list(self, request: Request) -> Response:
        found = [edition for name in all_editions() if (edition := _in_force(name)) is not None]
        return Response(ProcedureSerializer(found, many=True).data)

    @extend_schema(responses=ProcedureSerializer)
    def retrieve(self, request: Request, pk: str) -> Response:
        edition = _in_force(pk)
        if edition is None:
            raise Http404
        return Response(ProcedureSerializer(edition).data)


def _in_force(name: str) -> Procedure | None:
    try:
        return procedure_in_force(name, timezone.localdate(), approved_editions())
    except NoProcedure:
        return None


class EditionViewSet(viewsets.ReadOnlyModelViewSet):  # type: ignore[type-arg]
    """The railway's own editions: proposed by one engineer, answered by another."""

    queryset = OwnerProcedure.objects.select_related("proposed_by", "answered_by").prefetch_related(
        "changes"
    )
    serializer_class = EditionSerializer
    lookup_value_regex = "[0-9]+"
    filterset_fields = ["state", "procedure"]

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(person_of(request), Action.SEE)

    @extend_schema(
        request=EditionProposalSerializer,
        responses={201: EditionSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def create(self, request: Request) -> Response:
        """Propose an edition; nothing changes until a second engineer approves it."""
        given = EditionProposalSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        made = service.propose_edition(
            by=person_of(request),
            proposal=_proposal(given.validated_data),
            on=timezone.localdate(),
            at=timezone.now(),
        )
        return Response(EditionSerializer(made).data, status=201)

    @extend_schema(request=EditionPreviewSerializer, responses={202: RunSerializer})
    @action(detail=True, methods=["post"])
    def preview(self, request: Request, pk: str) -> Response:
        """Queue the estimating of waiting jobs by the present edition and this one."""
        given = EditionPreviewSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        run = request_procedure_preview(
            by=person_of(request),
            edition=self.get_object(),
            on=timezone.localdate(),
            request_key=f"edition {pk} {request.user.pk} {given.validated_data['request_key']}",
        )
        return Response(RunSerializer(run).data, status=202)

    @extend_schema(
        request=EditionApprovalSerializer,
        responses={202: RunSerializer},
        parameters=[KEY_PARAMETER],
    )
    @action(detail=True, methods=["post"])
    @once
    def approve(self, request: Request, pk: str) -> Response:
        """Approve as the second engineer; the run estimates waiting jobs anew."""
        given = EditionApprovalSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        run = service.approve_edition(
            **self._answer(request, given.validated_data),
            preview=LongRun.objects.filter(pk=given.validated_data["preview"]).first(),
            on=timezone.localdate(),
        )
        return Response(RunSerializer(run).data, status=202)

    @extend_schema(
        request=EditionAnswerSerializer, responses=EditionSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    @once
    def reject(self, request: Request, pk: str) -> Response:
        """Reject as the second engineer, with words."""
        given = EditionAnswerSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        row = service.reject_edition(**self._answer(request, given.validated_data))
        return Response(EditionSerializer(row).data)

    @extend_schema(
        request=EditionAnswerSerializer, responses=EditionSerializer, parameters=[KEY_PARAMETER]
    )
    @action(detail=True, methods=["post"])
    @once
    def withdraw(self, request: Request, pk: str) -> Response:
        """Take your own proposal back before it is answered."""
        given = EditionAnswerSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        row = service.withdraw_edition(**self._answer(request, given.validated_data))
        return Response(EditionSerializer(row).data)

    def _answer(self, request: Request, given: dict[str, Any]) -> dict[str, Any]:
        return {
            "by": person_of(request),
            "edition": self.get_object(),
            "version": given["version"],
            "note": given["note"],
            "at": timezone.now(),
        }


def _proposal(given: dict[str, Any]) -> service.EditionProposal:
    own = given["own_interpass"]
    return service.EditionProposal(
        procedure=given["procedure"],
        starts_on=given["starts_on"],
        changes=[
            Change(one["key"], typed_value(one["value"]), one["reason"]) for one in given["changes"]
        ],
        interpass=service.OwnInterpass(**own) if own else given["interpass_rule"],
        reason=given["reason"],
        seen=given["seen"],
    )
