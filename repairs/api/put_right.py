"""Putting one entry of a record right, for programs."""

from typing import Any
from uuid import UUID, uuid4

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from repairs.api.field import the_sheet
from repairs.models import FieldEvent
from repairs.services.put_right import PutRight, put_entry_right
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.serializers import named_by


class EntryChangeSerializer(serializers.Serializer[Any]):
    """What is to hold in place of an entry."""

    instead = serializers.DictField(
        allow_null=True, help_text="The entry as it should have been; null strikes it out."
    )
    held = serializers.UUIDField(
        allow_null=True,
        default=None,
        help_text="The id of the correction that held when you looked; null where none did.",
    )
    happened_at = serializers.DateTimeField(
        allow_null=True, default=None, help_text="Its moment, where that was wrong."
    )
    name = serializers.UUIDField(
        default=uuid4, help_text="An id for the correction; the same one again does nothing."
    )


class PutRightSerializer(EntryChangeSerializer):
    reason = serializers.CharField(max_length=300)


class CorrectionSerializer(serializers.ModelSerializer[FieldEvent]):
    """A correction as it was written down."""

    sheet = named_by("number")
    by = named_by("username")

    class Meta:
        model = FieldEvent
        fields = ["event_id", "sheet", "number", "data", "at", "by", "entered_from", "sha256"]


def change_from(given: dict[str, Any], entry: UUID, reason: str) -> PutRight:
    """What the service is asked for, from a request that was read."""
    return PutRight(
        of=entry,
        name=given["name"],
        held=given["held"],
        data=given["instead"],
        reason=reason,
        happened_at=given["happened_at"],
    )


class PutRightView(APIView):
    """One entry put right before the record is signed."""

    @extend_schema(
        request=PutRightSerializer,
        responses={
            201: CorrectionSerializer,
            400: OpenApiTypes.OBJECT,
            409: OpenApiTypes.OBJECT,
        },
        parameters=[KEY_PARAMETER],
    )
    @once
    def post(self, request: Request, number: str, event: UUID) -> Response:
        """Put it right; both stand. 409 where somebody else did meanwhile, or it is signed."""
        form = PutRightSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        given = dict(form.validated_data)
        row = put_entry_right(
            by=person_of(request),
            sheet=the_sheet(request, number),
            change=change_from(given, event, given["reason"]),
            at=timezone.now(),
        )
        return Response(CorrectionSerializer(row).data, status=201)
