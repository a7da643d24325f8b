"""The ``Idempotency-Key`` header: a program that did not hear the answer may ask again."""

import hashlib
import json
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from drf_spectacular.utils import OpenApiParameter
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from turnouts.services.answers import Answer, answer_once

HEADER = "Idempotency-Key"
KEY_PARAMETER = OpenApiParameter(
    HEADER,
    str,
    OpenApiParameter.HEADER,
    description="Chosen by the sender, 80 characters at most. The same request with the same key "
    "is done once and answered the same.",
)

View = Callable[..., Response]


def once(view: View) -> View:
    """Decorator of a writing method: with a key, it is done once."""

    @wraps(view)
    def answered(self: Any, request: Request, *args: Any, **kwargs: Any) -> Response:
        key = request.headers.get(HEADER)
        if not key:
            return view(self, request, *args, **kwargs)

        def answer() -> Answer:
            given = view(self, request, *args, **kwargs)
            return given.status_code, json.loads(JSONRenderer().render(given.data))

        status, body = answer_once(by=request.user, key=key, asked=_asked(request), answer=answer)  # type: ignore[arg-type]
        return Response(body, status=status)

    return answered


def _asked(request: Request) -> str:
    """A digest of method, address and content; of a file, of its bytes."""
    held = hashlib.sha256(f"{request.method} {request.path}\n".encode())
    if hasattr(request.data, "lists"):
        for name, values in sorted(request.data.lists()):
            for value in values:
                held.update(f"{name}=".encode() + _bytes(value) + b"\n")
    else:
        held.update(json.dumps(request.data, sort_keys=True, default=str).encode())
    return held.hexdigest()


def _bytes(value: Any) -> bytes:
    if not isinstance(value, UploadedFile):
        return str(value).encode()
    digest = hashlib.sha256()
    for chunk in value.chunks():
        digest.update(chunk)
    value.seek(0)
    return digest.digest()
