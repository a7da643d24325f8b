"""The record of a job for programs: reading it, signing, correcting, and a supervisor's word."""

from typing import Any

from django.http import Http404, HttpResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from repairs.api.field import the_sheet
from repairs.api.put_right import EntryChangeSerializer, change_from
from repairs.field.state import as_json
from repairs.models import FieldRecord, StartOverride, TrackRestriction
from repairs.paper.record import record_paper
from repairs.services.field_effects import confirm_restriction
from repairs.services.field_export import record_export
from repairs.services.field_reading import read_record
from repairs.services.field_records import correct_record, sign_record
from repairs.services.field_rights import let_start
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of
from turnouts.api.serializers import named_by
from turnouts.models import Person
from turnouts.models.turnouts import SPEED
from turnouts.services.errors import Refused


class SignSerializer(serializers.Serializer[Any]):
    statement = serializers.CharField(max_length=1000, allow_blank=True, default="")


class CorrectedEntrySerializer(EntryChangeSerializer):
    entry = serializers.UUIDField(help_text="The id of the entry that is put right.")


class CorrectSerializer(serializers.Serializer[Any]):
    statement = serializers.CharField(
        max_length=1000, help_text="What is corrected and why; it stands beside what was signed."
    )
    change = CorrectedEntrySerializer(
        required=False, help_text="One entry that is put right by it; the statement is the reason."
    )


class FieldRecordSerializer(serializers.ModelSerializer[FieldRecord]):
    """One signed record without the entries it froze; those are in the whole record."""

    sheet = named_by("number")
    signed_by = named_by("username")
    closed = serializers.DictField(source="content.closed", allow_null=True, default=None)

    class Meta:
        model = FieldRecord
        fields = [
            "serial",
            "sheet",
            "number",
            "kind",
            "signed_by",
            "signed_name",
            "role",
            "qualification",
            "signed_at",
            "statement",
            "closed",
            "previous",
            "sha256",
        ]


class LetStartSerializer(serializers.Serializer[Any]):
    person = serializers.CharField(max_length=150, help_text="The name they log in with.")
    reason = serializers.CharField(max_length=300)


class StartOverrideSerializer(serializers.ModelSerializer[StartOverride]):
    sheet = named_by("number")
    person = named_by("username")
    by = named_by("username")

    class Meta:
        model = StartOverride
        fields = ["sheet", "person", "by", "role", "reason", "at"]


class ConfirmRestrictionSerializer(serializers.Serializer[Any]):
    closed = serializers.BooleanField(default=False, help_text="The track is closed to traffic.")
    speed_kmh = serializers.DecimalField(**SPEED, min_value=0, required=False, allow_null=True)
    note = serializers.CharField(max_length=300, allow_blank=True, default="")

    def validate(self, given: dict[str, Any]) -> dict[str, Any]:
        if given["closed"] == (given.get("speed_kmh") is not None):
            raise serializers.ValidationError(
                "Give speed_kmh, or say by closed that the track is closed to traffic; not both."
            )
        return given


class TrackRestrictionSerializer(serializers.ModelSerializer[TrackRestriction]):
    sheet = named_by("number")
    confirmed_by = named_by("username")

    class Meta:
        model = TrackRestriction
        fields = [
            "sheet",
            "speed_kmh",
            "reason",
            "proposed_at",
            "confirmed_at",
            "confirmed_by",
            "confirmed_role",
            "confirmed_kmh",
            "confirmed_note",
        ]


def _read(form: serializers.Serializer[Any]) -> dict[str, Any]:
    form.is_valid(raise_exception=True)
    return dict(form.validated_data)


class RecordView(APIView):
    """Everything of one sheet's record: entries, signed records, and their digests."""

    @extend_schema(responses=OpenApiTypes.OBJECT)
    def get(self, request: Request, number: str) -> Response:
        """The whole record; with it a later change can be shown."""
        return Response(as_json(record_export(the_sheet(request, number))))


class RecordPaperView(APIView):
    """The same record as PDF, in the reader's units."""

    @extend_schema(responses={(200, "application/pdf"): OpenApiTypes.BINARY})
    def get(self, request: Request, number: str) -> HttpResponse:
        """The record as PDF, with its photographs small."""
        sheet, reader = the_sheet(request, number), person_of(request)
        answer = HttpResponse(
            record_paper(read_record(sheet), reader.units), content_type="application/pdf"
        )
        answer["Content-Disposition"] = f'attachment; filename="{sheet.number}-record.pdf"'
        return answer


class SignView(APIView):
    """The first signature under a record."""

    @extend_schema(
        request=SignSerializer, responses={201: FieldRecordSerializer}, parameters=[KEY_PARAMETER]
    )
    @once
    def post(self, request: Request, number: str) -> Response:
        """Put your name to the record as it stands, and close the job. 409 where it is signed."""
        row = sign_record(
            by=person_of(request),
            sheet=the_sheet(request, number),
            at=timezone.now(),
            **_read(SignSerializer(data=request.data)),
        )
        return Response(FieldRecordSerializer(row).data, status=201)


class CorrectView(APIView):
    """Corrections that follow a signed record; all of them stand."""

    @extend_schema(
        request=CorrectSerializer,
        responses={201: FieldRecordSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def post(self, request: Request, number: str) -> Response:
        """Sign a correction. What was signed stays; 400 where nothing is signed yet."""
        given = _read(CorrectSerializer(data=request.data))
        entry, said = given.get("change"), given["statement"]
        row = correct_record(
            by=person_of(request),
            sheet=the_sheet(request, number),
            at=timezone.now(),
            statement=said,
            change=change_from(entry, entry["entry"], said) if entry else None,
        )
        return Response(FieldRecordSerializer(row).data, status=201)


class LetStartView(APIView):
    """A supervisor's word, in an emergency, that somebody not qualified may start."""

    @extend_schema(
        request=LetStartSerializer,
        responses={201: StartOverrideSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def post(self, request: Request, number: str) -> Response:
        """Let somebody on the sheet start it; your name and reason are kept with it."""
        sheet, given = the_sheet(request, number), _read(LetStartSerializer(data=request.data))
        person = Person.objects.filter(username=given["person"]).first()
        if person is None:
            raise Refused(f"Nobody logs in as {given['person']}.")
        row = let_start(
            by=person_of(request),
            sheet=sheet,
            person=person,
            reason=given["reason"],
            at=timezone.now(),
        )
        return Response(StartOverrideSerializer(row).data, status=201)


class RestrictionView(APIView):
    """What trains may do after a hand back that was not class speed."""

    @extend_schema(responses=TrackRestrictionSerializer)
    def get(self, request: Request, number: str) -> Response:
        """The restriction as proposed, and as confirmed if it was; 404 where there is none."""
        return Response(TrackRestrictionSerializer(_restriction(request, number)).data)

    @extend_schema(
        request=ConfirmRestrictionSerializer,
        responses=TrackRestrictionSerializer,
        parameters=[KEY_PARAMETER],
    )
    @once
    def post(self, request: Request, number: str) -> Response:
        """A qualified person's word on the speed, or that the track is closed. 409 the second."""
        given = _read(ConfirmRestrictionSerializer(data=request.data))
        row = confirm_restriction(
            by=person_of(request),
            restriction=_restriction(request, number),
            speed_kmh=given.get("speed_kmh"),
            note=given["note"],
            at=timezone.now(),
        )
        return Response(TrackRestrictionSerializer(row).data)


def _restriction(request: Request, number: str) -> TrackRestriction:
    """The latest of a sheet: a correction after the signature may ask for a second word."""
    rows = the_sheet(request, number).restrictions
    row = rows.select_related("confirmed_by", "sheet__job__turnout").first()
    if row is None:
        raise Http404("No restriction follows from this sheet.")
    return row
