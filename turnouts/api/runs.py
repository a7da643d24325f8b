"""Endpoints of long runs: imports, exports, and the progress of each."""

from typing import Any

from django.db.models import QuerySet
from django.http import FileResponse
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import viewsets
from rest_framework.decorators import action
from rest_framework.parsers import JSONParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from turnouts.access import Action, require
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.serializers import RunSerializer
from turnouts.api.writing import ExportRequestSerializer, ImportUploadSerializer, RefusalSerializer
from turnouts.downloads import download
from turnouts.models import LongRun
from turnouts.services.export_runs import KIND, file_of, start_export
from turnouts.services.exports import OWN_UNITS, units_of
from turnouts.services.imports import accept_import, start_import
from turnouts.services.runs import with_progress


class _OwnRuns(viewsets.ReadOnlyModelViewSet[LongRun]):
    queryset = LongRun.objects.all()
    serializer_class = RunSerializer

    def get_queryset(self) -> QuerySet[LongRun]:
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return self.queryset.filter(requested_by=self.request.user.pk)

    def get_object(self) -> LongRun:
        return with_progress(super().get_object())


class RunViewSet(_OwnRuns):
    """The person's own long runs."""


class ImportViewSet(_OwnRuns):
    """Files handed over: first looked at in a dry run, then accepted."""

    queryset = LongRun.objects.filter(kind="import")
    parser_classes = [MultiPartParser, JSONParser]

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(request.user, Action.IMPORT)

    @extend_schema(
        request={"multipart/form-data": ImportUploadSerializer},
        responses={202: RunSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def create(self, request: Request) -> Response:
        """Hand a file over for a dry run; the run's result is the report."""
        given = ImportUploadSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        upload = given.validated_data["file"]
        run = start_import(
            by=person_of(request),
            files=[(upload.name, upload.read())],
            dry_run=True,
            request_key=given.validated_data["request_key"],
        )
        return Response(self.get_serializer(run).data, status=202)

    @extend_schema(request=None, responses={202: RunSerializer})
    @action(detail=True, methods=["post"])
    def accept(self, request: Request, pk: str) -> Response:
        """Do what the dry run showed; asking again gives the same run."""
        dry_run = get_object_or_404(self.get_queryset(), pk=pk)
        run = accept_import(by=person_of(request), dry_run=dry_run)
        return Response(self.get_serializer(run).data, status=202)


class ExportViewSet(_OwnRuns):
    """The records taken out as a file, kept for some days."""

    queryset = LongRun.objects.filter(kind=KIND)

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(request.user, Action.SEE)

    def perform_content_negotiation(self, request: Request, force: bool = False) -> Any:
        """A file is what it is, whatever kinds the program says it takes."""
        return super().perform_content_negotiation(request, force or self.action == "file")

    @extend_schema(
        request=ExportRequestSerializer,
        responses={202: RunSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def create(self, request: Request) -> Response:
        """Ask for a file; it is there when the run is done."""
        asked = ExportRequestSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        person, given = person_of(request), asked.validated_data
        run = start_export(
            by=person,
            request_key=given["request_key"],
            names=given["sheets"],
            form=given["form"],
            units=units_of(person) if given["units"] == "own" else OWN_UNITS,
        )
        return Response(self.get_serializer(run).data, status=202)

    @extend_schema(
        responses={
            (200, "application/octet-stream"): OpenApiTypes.BINARY,
            (409, "application/json"): RefusalSerializer,
        }
    )
    @action(detail=True, methods=["get"])
    def file(self, request: Request, pk: str) -> FileResponse:
        """The file; 409 with a sentence while it is not there yet, or when it was taken away."""
        run = get_object_or_404(self.get_queryset(), pk=pk)
        return download(file_of(by=person_of(request), run=run))
