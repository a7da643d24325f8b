"""Long work that runs in the queue, with the progress a page shows."""

from django.conf import settings
from django.db import models
from django.db.models import Q


class LongRun(models.Model):
    """One long job: an import, a triage of many defects, a plan.

    ``request_key`` is chosen by whoever asks, so that asking twice starts it once.
    """

    STATES = [
        ("queued", "Waiting"),
        ("running", "Running"),
        ("done", "Done"),
        ("failed", "Failed"),
    ]

    kind = models.CharField(max_length=16)
    task = models.CharField(max_length=60, blank=True)
    request_key = models.CharField(max_length=80, unique=True)
    asked = models.JSONField(default=dict, blank=True)
    state = models.CharField(max_length=8, choices=STATES, default="queued")
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    message = models.CharField(max_length=300, blank=True)
    result = models.JSONField(default=dict, blank=True)
    requested_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="runs"
    )
    requested_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-requested_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(state__in=["queued", "running", "done", "failed"]),
                name="run_state_is_known",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.request_key}"

    @property
    def finished(self) -> bool:
        return self.state in ("done", "failed")


class ExportFile(models.Model):
    """A file that a run wrote, for the person who asked; kept some days, then taken away."""

    run = models.OneToOneField(LongRun, on_delete=models.PROTECT, related_name="export_file")
    name = models.CharField(max_length=80)
    content = models.FileField(upload_to="exports/%Y/%m")
    made_at = models.DateTimeField()
    grants = models.JSONField()
    """Role and territory of each grant with which it was written."""

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return self.name


class ImportFile(models.Model):
    """A file handed over for import: its content hash, and the report of what it would change."""

    run = models.OneToOneField(LongRun, on_delete=models.PROTECT, related_name="import_file")
    name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64)
    content = models.FileField(upload_to="imports/%Y/%m")
    dry_run = models.BooleanField()

    class Meta:
        ordering = ["-run__requested_at"]

    def __str__(self) -> str:
        return self.name
