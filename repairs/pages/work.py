"""The working page of a job sheet: made for the phone at the trackside, with or without signal."""

import json
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.views.decorators.http import require_GET

from repairs.models import JobSheet
from turnouts.access import Action
from turnouts.pages.asking import Asked, found, page

SCRIPTS = (
    "store",
    "words",
    "state",
    "clock",
    "sender",
    "parts",
    "mending",
    "cards",
    "penetrant",
    "proof",
    "steps",
    "records",
    "ending",
    "page",
)
"""In the order they stand on each other."""

SHELL = (
    "css/base.css",
    "css/parts.css",
    "img/mark.svg",
    "js/menu.js",
    "repairs/repairs.css",
    "repairs/sheet.css",
    "repairs/trackside.css",
    "django_htmx/htmx-2.min.js",
    "repairs/trackside/leaving.js",
    *(f"repairs/trackside/{name}.js" for name in SCRIPTS),
)
"""What a sheet's pages are made of besides themselves."""


@page(Action.SEE_SHEETS)
def work(request: Asked, number: str) -> HttpResponse:
    """The page; what stands on it comes from the API, or from the phone's own store."""
    rows = JobSheet.objects.select_related("job__turnout")
    row = found(request, rows, Action.SEE_SHEETS, number=number)
    scripts = [static(f"repairs/trackside/{name}.js") for name in SCRIPTS]
    context = {
        "sheet": row,
        "content": row.content,
        "scripts": scripts,
        "zone": settings.TIME_ZONE,
        "person": request.user.username,
    }
    return render(request, "repairs/work.html", context)


@require_GET
@login_not_required
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker. It holds no record, so it may be renewed after a login ran out."""
    files = [static(name) for name in SHELL]
    context = {"files": json.dumps(files), "version": _version(files)}
    answer = render(request, "repairs/trackside-worker.js", context, content_type="text/javascript")
    answer["Cache-Control"] = "no-cache"
    return answer


def _version(files: list[str]) -> str:
    """Changes with any file of the shell: by its hashed name, or where names have none, its text.

    Production names carry a hash; the demo's do not. A file is read again only when it has changed.
    """
    found = (finders.find(name) for name in SHELL)
    texts = (_text_digest(where, Path(where).stat().st_mtime_ns) for where in found if where)
    return sha256("\n".join([*files, *texts]).encode()).hexdigest()[:12]


@lru_cache(maxsize=2 * len(SHELL))
def _text_digest(where: str, changed_ns: int) -> str:
    return sha256(Path(where).read_bytes()).hexdigest()
