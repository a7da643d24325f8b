"""A refusal reaches the person as a sentence with the right status, on every page."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from turnouts.access import Forbidden
from turnouts.analysis.units import UnitError
from turnouts.services.errors import Conflict, Refused

ANSWERS: list[tuple[type[Exception], int, str]] = [
    (Forbidden, 403, "Not for your role"),
    (Conflict, 409, "Somebody was faster, or it is too late for that"),
    (Refused, 400, "That cannot be done"),
    (UnitError, 400, "That value cannot be read"),
]

NO_NUL = "It holds a sign that no record can hold. Go back to the start and look from there."


class SayRefusals:
    """Middleware: services raise, and the sentence is shown instead of a fault page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "\x00" in request.path or "%00" in request.META.get("QUERY_STRING", ""):
            return _said(request, 400, "That address cannot be read", NO_NUL)
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, fault: Exception) -> HttpResponse | None:
        for kind, status, heading in ANSWERS:
            if isinstance(fault, kind):
                return _said(request, status, heading, str(fault))
        return None


def _said(request: HttpRequest, status: int, heading: str, sentence: str) -> HttpResponse:
    context = {"heading": heading, "sentence": sentence}
    return render(request, "refused.html", context, status=status)
