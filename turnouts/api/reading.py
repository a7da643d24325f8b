"""What every reading endpoint shares: only rows of the reader's territories exist."""

from typing import Any, cast

from django.db.models import QuerySet
from rest_framework import viewsets
from rest_framework.request import Request

from turnouts.access import Action, require, visible
from turnouts.models import Person


def person_of(request: Request) -> Person:
    """Who asks. Every endpoint is for people who are logged in, so there is always somebody."""
    return cast(Person, request.user)


class VisibleRows(viewsets.ReadOnlyModelViewSet):  # type: ignore[type-arg]
    """List and detail of rows the person may see; ``action_needed`` names the right it takes."""

    action_needed = Action.SEE
    lookup_value_regex = "[^/]+"  # codes and serial numbers may hold a dot

    def initial(self, request: Any, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        require(request.user, self.action_needed)

    def get_queryset(self) -> QuerySet[Any]:
        rows: QuerySet[Any] = super().get_queryset()
        if getattr(self, "swagger_fake_view", False):  # the schema is made without a person
            return rows
        return visible(self.request.user, rows, self.action_needed)  # type: ignore[arg-type]
