"""Files handed to one person: not kept by caches on the way, never shown instead of saved."""

from django.http import FileResponse

from turnouts.models import ExportFile

_TYPES = {
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "zip": "application/zip",
    "pdf": "application/pdf",
}


def download(kept: ExportFile) -> FileResponse:
    """The answer that saves the file under its name; who may have it is asked before."""
    answer = FileResponse(
        kept.content.open("rb"),
        as_attachment=True,
        filename=kept.name,
        content_type=_TYPES[kept.name.rpartition(".")[2]],
    )
    answer["Cache-Control"] = "private, no-store"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer
