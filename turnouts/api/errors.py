"""A refusal reaches a program as ``{"detail": sentence}`` with the right status."""

from typing import Any

from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler

from turnouts.refusals import ANSWERS

NOBODY = "The login ran out, or nobody has logged in."
"""Read by a welder on the phone too, so in plain words."""


def handle(fault: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler, with the sentences of our own refusals."""
    for kind, status, _ in ANSWERS:
        if isinstance(fault, kind):
            refusal = exceptions.APIException(str(fault))
            refusal.status_code = status
            return exception_handler(refusal, context)
    if isinstance(fault, exceptions.NotAuthenticated):
        fault.detail = exceptions.ErrorDetail(NOBODY, fault.default_code)
    return exception_handler(fault, context)
