"""Reviews for a meeting, for programs: asked for, made in the queue, taken as PDF."""

from typing import Any

from django.http import FileResponse
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from repairs.services.review_runs import KIND, request_review
from turnouts.access import Action, visible
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.runs import RunViewSet
from turnouts.api.serializers import RunSerializer
from turnouts.api.writing import RefusalSerializer
from turnouts.downloads import download
from turnouts.models import LongRun, Territory
from turnouts.services.export_runs import file_of


class ReviewRequestSerializer(serializers.Serializer[Any]):
    """Of which territory (its code) and time; ``request_key`` is the sender's."""

    territory = serializers.CharField()
    since = serializers.DateField()
    until = serializers.DateField()
    request_key = serializers.CharField(max_length=40)


class ReviewViewSet(RunViewSet):
    """The person's own reviews; the PDF is there when the run is done, and kept some days."""

    queryset = LongRun.objects.filter(kind=KIND)
    action_needed = Action.SEE

    def perform_content_negotiation(self, request: Request, force: bool = False) -> Any:
        """A file is what it is, whatever kinds the program says it takes."""
        return super().perform_content_negotiation(request, force or self.action == "file")

    @extend_schema(
        request=ReviewRequestSerializer,
        responses={202: RunSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def create(self, request: Request) -> Response:
        """Ask for a review."""
        asked = ReviewRequestSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        person, given = person_of(request), asked.validated_data
        territories = visible(person, Territory.objects.all())
        run = request_review(
            by=person,
            territory=get_object_or_404(territories, code=given["territory"]),
            since=given["since"],
            until=given["until"],
            request_key=given["request_key"],
        )
        return Response(self.get_serializer(run).data, status=202)

    @extend_schema(
        responses={
            (200, "application/pdf"): OpenApiTypes.BINARY,
            (409, "application/json"): RefusalSerializer,
        }
    )
    @action(detail=True, methods=["get"])
    def file(self, request: Request, pk: str) -> FileResponse:
        """The PDF; 409 with a sentence while it is not there yet, or when it was taken away."""
        run = get_object_or_404(self.get_queryset(), pk=pk)
        return download(file_of(by=person_of(request), run=run))
