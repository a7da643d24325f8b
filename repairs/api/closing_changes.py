"""What a correction would change of a job's closing, for programs: reading and answering it."""

from typing import Any

from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from repairs.api.answered import ANSWER_FIELDS, AnsweredSerializer
from repairs.api.field import the_sheet
from repairs.models import ClosingChange
from repairs.services.closing_changes import approve_closing_change, reject_closing_change
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of


class ClosingChangeSerializer(AnsweredSerializer):
    """Each defect as it stood and as the corrected record has it; ``done``: what approving did."""

    sheet = serializers.CharField(source="record.sheet.number")
    record = serializers.IntegerField(source="record.number")
    stood = serializers.DictField(child=serializers.CharField())
    should_be = serializers.DictField(child=serializers.CharField())
    done = serializers.ListField(child=serializers.CharField())

    class Meta:
        model = ClosingChange
        fields = ["id", "sheet", "record", "stood", "should_be", *ANSWER_FIELDS, "done"]


class ClosingAnswerSerializer(serializers.Serializer[Any]):
    approve = serializers.BooleanField()
    note = serializers.CharField(max_length=300, allow_blank=True, default="")


class ClosingChangesView(APIView):
    """The changes of a closing that corrections of one sheet's record asked for."""

    @extend_schema(responses=ClosingChangeSerializer(many=True))
    def get(self, request: Request, number: str) -> Response:
        """In the order of the corrections; answered ones stay."""
        rows = ClosingChange.objects.filter(record__sheet=the_sheet(request, number))
        found = rows.select_related("record__sheet", "proposed_by", "answered_by")
        ordered = found.order_by("record__number")
        return Response(ClosingChangeSerializer(ordered, many=True).data)


class ClosingAnswerView(APIView):
    """A second qualified person's answer."""

    @extend_schema(
        request=ClosingAnswerSerializer,
        responses=ClosingChangeSerializer,
        parameters=[KEY_PARAMETER],
    )
    @once
    def post(self, request: Request, number: str, pk: int) -> Response:
        """Approve or, with words, reject. 403 for whoever signed the correction, 409 answered."""
        form = ClosingAnswerSerializer(data=request.data)
        form.is_valid(raise_exception=True)
        row = get_object_or_404(ClosingChange, record__sheet=the_sheet(request, number), pk=pk)
        answer = approve_closing_change if form.validated_data["approve"] else reject_closing_change
        note, by = form.validated_data["note"], person_of(request)
        made = answer(by=by, change=row, note=note, at=timezone.now())
        return Response(ClosingChangeSerializer(made).data)
