"""The records as they are, read only: changes go through the services, which check and explain."""

from typing import Any

from django.contrib import admin
from django.http import HttpRequest

from turnouts import models


class ReadOnly(admin.ModelAdmin):  # type: ignore[type-arg]
    """Rows to look at; nothing is added, changed or deleted here."""

    list_per_page = 50

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


admin.site.register(
    [
        models.Component,
        models.Defect,
        models.ImportFile,
        models.Inspection,
        models.Installation,
        models.Instrument,
        models.Line,
        models.LongRun,
        models.Person,
        models.RoleGrant,
        models.ShopVisit,
        models.Territory,
        models.Track,
        models.TrackClass,
        models.Turnout,
    ],
    ReadOnly,
)
