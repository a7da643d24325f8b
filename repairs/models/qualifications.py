"""Who may do what, from when until when, and on what evidence."""

from datetime import date

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import F, Q

from repairs.welding.certificates import Proof, ProofKind, faults_of, proofs_asked, sentence_of
from turnouts.models.audit import audited
from turnouts.models.choices import choices, only

EXAMINER = 120


def _by_then(kind: ProofKind) -> models.CheckConstraint:
    """A proof was given on the day of issue or before it."""
    day = f"{kind.value}_on"
    none, early = {f"{day}__isnull": True}, {f"{day}__lte": F("issued_on")}
    return models.CheckConstraint(
        condition=Q(**none) | Q(**early), name=f"{kind.value}_comes_before_the_certificate"
    )


@audited()
class Qualification(models.Model):
    """A certificate for a repair procedure or a duty in track; ``procedure`` is its key.

    ``evidence`` says in words what it rests on. Of each proof of a welder's certificate stand the
    day, who examined it and the result; what is not on record yet is empty, and until it is there
    the certificate does not count.
    """

    RESULTS = [("passed", "Passed"), ("failed", "Failed")]

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="qualifications"
    )
    procedure = models.CharField(max_length=40)
    issued_on = models.DateField()
    expires_on = models.DateField(null=True, blank=True)
    evidence = models.CharField(max_length=200)
    plate_on = models.DateField(null=True, blank=True)
    plate_examiner = models.CharField(max_length=EXAMINER, blank=True)
    plate_macro_etch = models.CharField(max_length=8, choices=RESULTS, blank=True)
    mock_on = models.DateField(null=True, blank=True)
    mock_examiner = models.CharField(max_length=EXAMINER, blank=True)
    mock_repair = models.CharField(max_length=8, choices=RESULTS, blank=True)
    penetrant_on = models.DateField(null=True, blank=True)
    penetrant_examiner = models.CharField(max_length=EXAMINER, blank=True)
    mock_penetrant = models.CharField(max_length=8, choices=RESULTS, blank=True)
    written_on = models.DateField(null=True, blank=True)
    written_examiner = models.CharField(max_length=EXAMINER, blank=True)
    written_mark_percent = models.PositiveSmallIntegerField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["person", "procedure", "issued_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "procedure", "issued_on"], name="one_certificate_a_day"
            ),
            models.CheckConstraint(
                condition=Q(expires_on__isnull=True) | Q(expires_on__gt=F("issued_on")),
                name="certificate_expires_after_issue",
            ),
            models.CheckConstraint(
                condition=Q(written_mark_percent__isnull=True) | Q(written_mark_percent__lte=100),
                name="written_mark_is_a_percentage",
            ),
            *(_by_then(kind) for kind in ProofKind),
            models.CheckConstraint(
                condition=Q(mock_on__isnull=True)
                | Q(penetrant_on__isnull=True)
                | Q(penetrant_on__gte=F("mock_on")),
                name="mock_repair_is_tested_after_it_is_made",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.procedure}"

    @property
    def proofs(self) -> tuple[Proof, ...]:
        """The proofs that its procedure asks, as they are on record."""
        kept = (
            self._proof(ProofKind.PLATE, self.plate_macro_etch),
            self._proof(ProofKind.MOCK, self.mock_repair),
            self._proof(ProofKind.PENETRANT, self.mock_penetrant),
            Proof(
                ProofKind.WRITTEN,
                self.written_on,
                self.written_examiner,
                mark_percent=self.written_mark_percent,
            ),
        )
        wanted = proofs_asked(self.procedure)
        return tuple(proof for proof in kept if proof.kind in wanted)

    def _proof(self, kind: ProofKind, result: str) -> Proof:
        on, examiner = getattr(self, f"{kind.value}_on"), getattr(self, f"{kind.value}_examiner")
        return Proof(kind, on, examiner, result == "passed" if result else None)

    @property
    def faults(self) -> tuple[str, ...]:
        """What its evidence lacks, in words; nothing when it is whole and passed."""
        return faults_of(self.procedure, self.proofs)

    @property
    def not_valid(self) -> str:
        """The same as one sentence, empty when the evidence is whole."""
        return sentence_of(self.faults)

    def in_its_days(self, day: date) -> bool:
        """Whether a day lies in its time; the day of expiry still counts."""
        return self.issued_on <= day and (self.expires_on is None or day <= self.expires_on)

    def valid_on(self, day: date) -> bool:
        """Whether it counts on a day: in its time, and all evidence is there and passed."""
        return self.in_its_days(day) and not self.faults

    def said_on(self, day: date) -> str:
        """How it stands on a day, in words."""
        if self.faults:
            return self.not_valid
        if self.in_its_days(day):
            return "Valid."
        return "Not in force yet." if day < self.issued_on else "Run out."


class ProofPicture(models.Model):
    """A picture of a proof: the etched plate, the paper. Drawn anew on receipt, kept for good."""

    certificate = models.ForeignKey(
        Qualification, on_delete=models.PROTECT, related_name="pictures"
    )
    proof = models.CharField(max_length=12, choices=choices(ProofKind))
    image = models.ImageField(
        upload_to="photographs/%Y/%m", width_field="width_px", height_field="height_px"
    )
    width_px = models.PositiveIntegerField(default=0)
    height_px = models.PositiveIntegerField(default=0)
    sha256 = models.CharField(max_length=64)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["added_at", "pk"]
        constraints = [
            only("proof", ProofKind, "pictured_proof_is_known"),
            models.UniqueConstraint(
                fields=["certificate", "proof", "sha256"], name="one_picture_of_a_proof_once"
            ),
        ]
        triggers = [
            pgtrigger.Protect(
                name="proof_pictures_stay", operation=pgtrigger.Delete | pgtrigger.Update
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_proof_display()} of {self.certificate}"
