"""Refuses a request that is larger than the site takes, before any of it is stored."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase


class RefuseLargeRequests:
    """Answers 413 with a sentence. WSGI reads no body beyond CONTENT_LENGTH, so this is enough."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        length = int(request.META.get("CONTENT_LENGTH") or 0)
        if length <= settings.UPLOAD_MAX_BYTES:
            return self.get_response(request)
        return HttpResponse(
            f"The file has {length:,} bytes; at most {settings.UPLOAD_MAX_BYTES:,} can be taken. "
            "Send it in smaller parts.",
            status=413,
            content_type="text/plain; charset=utf-8",
        )
