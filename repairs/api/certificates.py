"""Certificates for programs: who holds what, on what evidence; adding and putting right."""

from dataclasses import replace
from typing import Any

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, viewsets
from rest_framework.decorators import action
from rest_framework.parsers import JSONParser, MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from repairs.models import ProofPicture, Qualification
from repairs.services.certificates import (
    Words,
    add_certificate,
    add_proof_picture,
    certificates_seen,
    change_certificate,
    people_seen,
    words_of,
)
from turnouts.access import Action, require
from turnouts.api.once import KEY_PARAMETER, once
from turnouts.api.reading import person_of

WORDS = [*Words.__dataclass_fields__]


class CertificateSerializer(serializers.ModelSerializer[Qualification]):
    username = serializers.CharField(source="person.username", read_only=True)
    valid = serializers.SerializerMethodField()
    stands = serializers.SerializerMethodField(help_text="How it stands today, in words.")

    class Meta:
        model = Qualification
        fields = ["id", "username", "procedure", *WORDS, "version", "valid", "stands"]

    def get_valid(self, row: Qualification) -> bool:
        return row.valid_on(timezone.localdate())

    def get_stands(self, row: Qualification) -> str:
        return row.said_on(timezone.localdate())


class WordsSerializer(serializers.ModelSerializer[Qualification]):
    """What a certificate says; a proof that is not on record yet is left out."""

    class Meta:
        model = Qualification
        fields = WORDS


class NewCertificateSerializer(WordsSerializer):
    username = serializers.CharField(max_length=150)
    procedure = serializers.CharField(max_length=40)

    class Meta(WordsSerializer.Meta):
        fields = ["username", "procedure", *WORDS]


class ChangedCertificateSerializer(WordsSerializer):
    """The version the sender saw, and what is put right; the rest stays as it is."""

    version = serializers.IntegerField(min_value=1)

    class Meta(WordsSerializer.Meta):
        fields = ["version", *WORDS]


class NewPictureSerializer(serializers.Serializer[Any]):
    proof = serializers.CharField(max_length=12)
    picture = serializers.FileField()


class ProofPictureSerializer(serializers.ModelSerializer[ProofPicture]):
    class Meta:
        model = ProofPicture
        fields = ["id", "proof", "sha256", "width_px", "height_px", "added_at"]


class CertificateViewSet(viewsets.ReadOnlyModelViewSet):  # type: ignore[type-arg]
    """One's own certificates, and those of the people one may see."""

    queryset = Qualification.objects.none()
    serializer_class = CertificateSerializer
    lookup_value_regex = r"\d{1,18}"
    parser_classes = [JSONParser, MultiPartParser]

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(request.user, Action.SEE)

    def get_queryset(self) -> QuerySet[Qualification]:
        if getattr(self, "swagger_fake_view", False):  # the schema is made without a person
            return self.queryset
        return certificates_seen(person_of(self.request))

    @extend_schema(
        request=NewCertificateSerializer,
        responses={201: CertificateSerializer},
        parameters=[KEY_PARAMETER],
    )
    @once
    def create(self, request: Request) -> Response:
        """A certificate of somebody else; it counts once its evidence is whole."""
        by = person_of(request)
        require(by, Action.CERTIFY)
        given = _read(NewCertificateSerializer, request)
        person = get_object_or_404(people_seen(by), username=given.pop("username"))
        procedure = given.pop("procedure")
        words = Words(**({"expires_on": None} | given))
        row = add_certificate(by=by, person=person, procedure=procedure, words=words)
        return Response(CertificateSerializer(row).data, status=201)

    @extend_schema(
        request=ChangedCertificateSerializer(partial=True),
        responses=CertificateSerializer,
        parameters=[KEY_PARAMETER],
    )
    @once
    def partial_update(self, request: Request, pk: str | None = None) -> Response:
        """Put a certificate right; 409 when it moved on since that version."""
        by = person_of(request)
        require(by, Action.CERTIFY)
        row = self.get_object()
        given = _read(ChangedCertificateSerializer, request, partial=True)
        if "version" not in given:
            raise serializers.ValidationError({"version": ["Say which version you saw."]})
        version = given.pop("version")
        words = replace(words_of(row), **given)
        changed = change_certificate(by=by, certificate=row, words=words, expected_version=version)
        return Response(CertificateSerializer(changed).data)

    @extend_schema(
        request={"multipart/form-data": NewPictureSerializer},
        responses={201: ProofPictureSerializer},
        parameters=[KEY_PARAMETER],
    )
    @action(detail=True, methods=["post"])
    @once
    def pictures(self, request: Request, pk: str | None = None) -> Response:
        """Keep a picture of one of its proofs; the same one again is the one that is there."""
        require(person_of(request), Action.CERTIFY)
        row = self.get_object()
        given = _read(NewPictureSerializer, request)
        kept = add_proof_picture(
            by=person_of(request),
            certificate=row,
            proof=given["proof"],
            upload=given["picture"],
            at=timezone.now(),
        )
        return Response(ProofPictureSerializer(kept).data, status=201)


def _read(
    kind: type[serializers.Serializer[Any]], request: Request, *, partial: bool = False
) -> dict[str, Any]:
    asked = kind(data=request.data, partial=partial)
    asked.is_valid(raise_exception=True)
    return dict(asked.validated_data)
