"""What the phone at the trackside asks and sends."""

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import FileResponse, HttpRequest
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from repairs.field.reading import BadEvent, read_moment
from repairs.models import FieldPhoto, JobSheet
from repairs.services.field_events import take_events
from repairs.services.field_photos import add_field_photo
from repairs.services.field_work import now_of, work_of_sheet
from repairs.services.learning import outcomes
from repairs.welding.calibration import calibration
from turnouts.access import Action, require, visible
from turnouts.api.reading import person_of
from turnouts.services.errors import Refused


class EventsSerializer(serializers.Serializer[Any]):
    device = serializers.CharField(max_length=40, help_text="Made once on the device, at random.")
    phone_now = serializers.CharField(
        max_length=40, help_text="The device's clock as it sends, with its offset."
    )
    events = serializers.ListField(
        child=serializers.JSONField(),
        help_text="At most 200, each with id (UUID), seq, kind, phone_at and data.",
    )


class RefusedEventSerializer(serializers.Serializer[Any]):
    id = serializers.CharField()
    sentence = serializers.CharField()


class ClockSerializer(serializers.Serializer[Any]):
    server_now = serializers.DateTimeField()
    offset_s = serializers.FloatField(
        required=False, help_text="By how much the device's clock is slow."
    )


class NowSerializer(serializers.Serializer[Any]):
    events = serializers.ListField(child=serializers.DictField())
    state = serializers.DictField(help_text="What follows from the events.")
    outlook = serializers.DictField(help_text="The clock: chance, last moments, what still can.")
    clock = ClockSerializer()


class TakenSerializer(NowSerializer):
    taken = serializers.ListField(child=serializers.UUIDField())
    known = serializers.ListField(child=serializers.UUIDField())
    refused = RefusedEventSerializer(many=True)


class MayStartSerializer(serializers.Serializer[Any]):
    yes = serializers.BooleanField()
    sentence = serializers.CharField()


class WorkSerializer(NowSerializer):
    sheet = serializers.DictField()
    stages = serializers.ListField(child=serializers.DictField())
    probabilities = serializers.ListField(child=serializers.FloatField())
    chance = serializers.FloatField()
    set_chance = serializers.FloatField()
    starts_at = serializers.DateTimeField()
    hand_back_at = serializers.DateTimeField()
    person = serializers.DictField()
    may_start = MayStartSerializer()
    withdrawn = serializers.BooleanField()
    superseded_by = serializers.CharField(allow_null=True)


class FieldPhotoUploadSerializer(serializers.Serializer[Any]):
    photo = serializers.FileField()


class FieldPhotoSerializer(serializers.Serializer[Any]):
    sha256 = serializers.CharField()
    width_px = serializers.IntegerField()
    height_px = serializers.IntegerField()


def the_sheet(request: Request | HttpRequest, number: str) -> JobSheet:
    """The sheet, for somebody who may see sheets where it is."""
    require(request.user, Action.SEE_SHEETS)  # type: ignore[arg-type]
    rows: QuerySet[JobSheet] = JobSheet.objects.select_related(
        "job__turnout__track__line__territory", "issued_by"
    )
    return get_object_or_404(visible(request.user, rows, Action.SEE_SHEETS), number=number)  # type: ignore[arg-type]


class SheetWorkView(APIView):
    """A job sheet as it is worked by: everything a phone keeps to go on without coverage."""

    @extend_schema(responses=WorkSerializer)
    def get(self, request: Request, number: str) -> Response:
        """The sheet, all its events, what follows from them, and the clock."""
        at = timezone.now()
        answer = work_of_sheet(the_sheet(request, number), person_of(request), at)
        return Response(answer | {"clock": {"server_now": at}})


class SheetEventsView(APIView):
    """Events of a job sheet, appended and never changed."""

    @extend_schema(request=EventsSerializer, responses=TakenSerializer)
    def post(self, request: Request, number: str) -> Response:
        """Send events. One that is there already does nothing; one that is bad is refused alone."""
        given = EventsSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        sheet, at = the_sheet(request, number), timezone.now()
        try:
            phone_now = read_moment("The call", "phone_now", given.validated_data["phone_now"])
        except BadEvent as bad:
            raise Refused(str(bad)) from None
        done = take_events(
            by=person_of(request),
            sheet=sheet,
            device=given.validated_data["device"],
            phone_now=phone_now,
            events=given.validated_data["events"],
            at=at,
        )
        return Response(
            {
                "taken": done.taken,
                "known": done.known,
                "refused": [{"id": one.id, "sentence": one.sentence} for one in done.refused],
                "clock": {"server_now": at, "offset_s": done.offset_s},
                **now_of(sheet, at),
            }
        )


class EventPhotoView(APIView):
    """The picture of a ``photo`` event."""

    parser_classes = [MultiPartParser]

    @extend_schema(
        request={"multipart/form-data": FieldPhotoUploadSerializer},
        responses={200: FieldPhotoSerializer, 400: OpenApiTypes.OBJECT},
    )
    def post(self, request: Request, number: str, event: UUID) -> Response:
        """Send the picture; the same one again is kept once."""
        given = FieldPhotoUploadSerializer(data=request.data)
        given.is_valid(raise_exception=True)
        kept = add_field_photo(
            by=person_of(request),
            sheet=the_sheet(request, number),
            event_id=str(event),
            upload=given.validated_data["photo"],
            at=timezone.now(),
        )
        return Response(FieldPhotoSerializer(kept).data)

    @extend_schema(responses={(200, "image/jpeg"): OpenApiTypes.BINARY})
    def get(self, request: Request, number: str, event: UUID) -> FileResponse:
        """The picture as it is kept; 404 where none came with the event."""
        row = get_object_or_404(
            FieldPhoto, event__sheet=the_sheet(request, number), event__event_id=event
        )
        return FileResponse(row.image.open("rb"), content_type="image/jpeg")


class OutcomeSerializer(serializers.Serializer[Any]):
    sheet = serializers.CharField(source="reference")
    p50_min = serializers.FloatField()
    p80_min = serializers.FloatField()
    p95_min = serializers.FloatField()
    actual_min = serializers.FloatField()


class PromiseHeldSerializer(serializers.Serializer[Any]):
    promise = serializers.FloatField()
    jobs = serializers.IntegerField()
    held = serializers.IntegerField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    sentence = serializers.CharField()


class ForecastsSerializer(serializers.Serializer[Any]):
    jobs = serializers.IntegerField()
    held = PromiseHeldSerializer(many=True)
    median_ratio = serializers.FloatField(allow_null=True)
    outcomes = OutcomeSerializer(many=True)


class ForecastsView(APIView):
    """How the forecasts did, over signed records."""

    @extend_schema(responses=ForecastsSerializer)
    def get(self, request: Request) -> Response:
        """How often the 50, 80 and 95 % times held, and each job's forecast and actual."""
        reader = person_of(request)
        require(reader, Action.ESTIMATE)
        found = outcomes(reader)
        record = calibration(found)
        answer = {
            "jobs": record.jobs,
            "held": record.held,
            "median_ratio": record.median_ratio,
            "outcomes": found,
        }
        return Response(ForecastsSerializer(answer).data)
