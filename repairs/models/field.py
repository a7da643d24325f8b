"""What was entered at the trackside and what was signed: appended, chained, never changed."""

import pgtrigger
from django.conf import settings
from django.db import models
from django.db.models import Q

from repairs.field.events import Kind
from repairs.models.sheets import JobSheet
from turnouts.models.choices import choices, only
from turnouts.models.turnouts import SPEED

_WRITTEN_ONCE = pgtrigger.Delete | pgtrigger.Update

SHA256 = 64


class FieldEvent(models.Model):
    """One event at the trackside, as it arrived. ``number`` counts those of one sheet.

    ``at`` is the phone's time put right by ``offset_s``, what its clock was off at the sync. Each
    event carries the SHA-256 of itself and of the one before it, so that a change would show.
    """

    ENTERED_FROM = [("phone", "Phone"), ("paper", "Paper"), ("office", "Office")]

    sheet = models.ForeignKey(JobSheet, on_delete=models.PROTECT, related_name="field_events")
    number = models.PositiveIntegerField()
    event_id = models.UUIDField(unique=True)
    device = models.CharField(max_length=40)
    seq = models.PositiveIntegerField()
    kind = models.CharField(max_length=24, choices=choices(Kind))
    phone_at = models.DateTimeField()
    offset_s = models.FloatField()
    at = models.DateTimeField()
    received_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    entered_from = models.CharField(max_length=8, choices=ENTERED_FROM, default="phone")
    data = models.JSONField()
    previous = models.CharField(max_length=SHA256, blank=True)
    sha256 = models.CharField(max_length=SHA256)

    territory_path = "sheet__job__turnout__track__line__territory"

    class Meta:
        ordering = ["sheet", "number"]
        constraints = [
            models.UniqueConstraint(fields=["sheet", "number"], name="one_field_event_a_number"),
            only("kind", Kind, "field_event_kind_is_known"),
        ]
        triggers = [pgtrigger.Protect(name="field_events_stay", operation=_WRITTEN_ONCE)]

    def __str__(self) -> str:
        return f"{self.sheet} {self.number}: {self.get_kind_display()}"


class FieldPhoto(models.Model):
    """The picture of a ``photo`` event, drawn anew on receipt so that nothing else stays in it."""

    event = models.OneToOneField(FieldEvent, on_delete=models.PROTECT, related_name="picture")
    image = models.ImageField(
        upload_to="photographs/%Y/%m", width_field="width_px", height_field="height_px"
    )
    width_px = models.PositiveIntegerField(default=0)
    height_px = models.PositiveIntegerField(default=0)
    sha256 = models.CharField(max_length=SHA256)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    territory_path = "event__sheet__job__turnout__track__line__territory"

    class Meta:
        ordering = ["event"]
        triggers = [pgtrigger.Protect(name="field_photos_stay", operation=_WRITTEN_ONCE)]

    def __str__(self) -> str:
        return f"Picture of {self.event}"


class StartOverride(models.Model):
    """A supervisor's word, in an emergency, that somebody not qualified may start a sheet."""

    sheet = models.ForeignKey(JobSheet, on_delete=models.PROTECT, related_name="start_overrides")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=16)
    reason = models.CharField(max_length=300)
    at = models.DateTimeField()

    territory_path = "sheet__job__turnout__track__line__territory"

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="start_override_has_a_reason"),
            models.UniqueConstraint(fields=["sheet", "person"], name="one_override_a_person"),
        ]
        triggers = [pgtrigger.Protect(name="start_overrides_stay", operation=_WRITTEN_ONCE)]

    def __str__(self) -> str:
        return f"{self.person} may start {self.sheet} by the word of {self.by}"


class FieldRecord(models.Model):
    """The record of one job as somebody signed it, or a correction that follows it.

    ``content`` is the whole record at that moment. ``serial`` counts all records of the railway;
    each carries the SHA-256 of itself and of the one before it.
    """

    KINDS = [("signed", "Signed"), ("correction", "Correction")]

    sheet = models.ForeignKey(JobSheet, on_delete=models.PROTECT, related_name="records")
    serial = models.PositiveIntegerField(unique=True)
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=12, choices=KINDS)
    signed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    signed_name = models.CharField(max_length=160)
    role = models.CharField(max_length=16)
    qualification = models.CharField(max_length=300)
    signed_at = models.DateTimeField()
    statement = models.CharField(max_length=1000, blank=True)
    content = models.JSONField()
    previous = models.CharField(max_length=SHA256, blank=True)
    sha256 = models.CharField(max_length=SHA256)

    territory_path = "sheet__job__turnout__track__line__territory"

    class Meta:
        ordering = ["serial"]
        constraints = [
            models.UniqueConstraint(fields=["sheet", "number"], name="one_record_a_number"),
            models.CheckConstraint(
                condition=Q(kind="signed", number=1)
                | Q(~Q(statement=""), kind="correction", number__gt=1),
                name="a_record_is_signed_once_and_then_corrected",
            ),
        ]
        triggers = [pgtrigger.Protect(name="field_records_stay", operation=_WRITTEN_ONCE)]

    def __str__(self) -> str:
        return f"{self.sheet}, record {self.number}"


class TrackRestriction(models.Model):
    """What trains may do after a hand back that is not class speed: proposed, then confirmed.

    ``speed_kmh`` empty means closed to traffic. It is written when the track is handed back and
    stands until a qualified person has put their name to it or to something else. A correction
    after the signature may ask for a second word; only one is awaited at a time.
    """

    sheet = models.ForeignKey(JobSheet, on_delete=models.PROTECT, related_name="restrictions")
    speed_kmh = models.DecimalField(null=True, blank=True, **SPEED)
    reason = models.CharField(max_length=1000)
    proposed_at = models.DateTimeField()
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    confirmed_role = models.CharField(max_length=16, blank=True)
    confirmed_kmh = models.DecimalField(null=True, blank=True, **SPEED)
    confirmed_note = models.CharField(max_length=300, blank=True)

    territory_path = "sheet__job__turnout__track__line__territory"

    class Meta:
        ordering = ["-proposed_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(confirmed_at__isnull=True, confirmed_by__isnull=True)
                | Q(confirmed_at__isnull=False, confirmed_by__isnull=False),
                name="restriction_is_confirmed_by_somebody",
            ),
            models.UniqueConstraint(
                fields=["sheet"],
                condition=Q(confirmed_at__isnull=True),
                name="one_word_on_the_track_is_awaited_a_sheet",
            ),
        ]
        triggers = [
            pgtrigger.Protect(name="track_restrictions_stay", operation=pgtrigger.Delete),
            pgtrigger.Protect(
                name="track_restrictions_are_answered_once",
                operation=pgtrigger.Update,
                condition=pgtrigger.Q(old__confirmed_at__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"Restriction after {self.sheet}"
