"""What every page asks first: who, may they, is there such a row; and how a form is refused."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import wraps
from typing import Any, TypeVar

from django import forms
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.core.paginator import Page, Paginator
from django.db.models import Model, QuerySet
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404

from turnouts.access import Action, Forbidden, require, visible
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused

M = TypeVar("M", bound=Model)
ROWS_A_PAGE = 50
MOST_SAID = 80
"""Letters of an unknown choice that its refusal repeats."""


class Asked(HttpRequest):
    """A request of somebody who is logged in."""

    user: Person


View = Callable[..., HttpResponseBase]


def page(action: Action) -> Callable[[View], View]:
    """Decorator: the page is for people who may do ``action`` somewhere; 403 for the others.

    What may be done in which territory is asked again by the service, or by :func:`found`.
    """

    def wrap(view: View) -> View:
        @wraps(view)
        def asked(request: Asked, *args: Any, **kwargs: Any) -> HttpResponseBase:
            require(request.user, action)
            return view(request, *args, **kwargs)

        answer: View = login_required(asked)
        answer.action = action  # type: ignore[attr-defined]
        return answer

    return wrap


def found(request: Asked, rows: QuerySet[M], action: Action = Action.SEE, /, **lookup: Any) -> M:
    """The row, or 404 when there is none or it lies in a territory where this is not allowed.

    Somebody who sees the row but may not do ``action`` there is told so, with 403.
    """
    row = get_object_or_404(visible(request.user, rows), **lookup)
    if action is not Action.SEE and not visible(request.user, rows, action).filter(pk=row.pk):
        raise Forbidden(f"You may not {action.value} in that territory.")
    return row


def one_page(request: HttpRequest, rows: QuerySet[M]) -> Page[M]:
    """The page of rows the address asks for; a number that makes no sense gives the nearest."""
    return Paginator(rows, ROWS_A_PAGE).get_page(request.GET.get("page"))


def asked_choice(request: HttpRequest, name: str, known: Iterable[str], usual: str = "") -> str:
    """What the address chooses by ``name``, or ``usual`` where it chooses nothing.

    Raises Refused where it is not one of ``known``: another choice's rows are never shown in its
    place. Lists of rows a reader may see are given as querysets, read only when something is asked.
    """
    wanted = request.GET.get(name, "")
    if wanted and wanted not in set(known):
        raise Refused(
            f"There is no {name} {wanted[:MOST_SAID]} to choose here, or it is not yours to see. "
            "Go back and choose one from the list."
        )
    return wanted or usual


def asked_code(request: Asked, name: str, rows: QuerySet[M]) -> str:
    """The code of a row the reader may see, or nothing where the address asks for none."""
    codes = visible(request.user, rows).values_list("code", flat=True)
    return asked_choice(request, name, codes)


@contextmanager
def refusals_in(form: forms.Form, field: str | None = None) -> Iterator[None]:
    """What the service refuses stands in the form, so that nothing typed is lost.

    The page then goes on below and shows the form again with :func:`form_status`. A Forbidden is
    no fault of the form and keeps its own page.
    """
    try:
        yield
    except Refused as refusal:
        code = "conflict" if isinstance(refusal, Conflict) else "refused"
        form.add_error(field, ValidationError(str(refusal), code=code))


def form_status(request: HttpRequest, form: forms.Form | None) -> int:
    """Of a page with a form: 200 to fill in, 400 sent back, 409 where a row has moved on."""
    if request.method != "POST":
        return 200
    faults = form.errors.as_data() if form else {}
    codes = {fault.code for several in faults.values() for fault in several}
    return 409 if "conflict" in codes else 400
