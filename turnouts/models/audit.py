"""The audit: every insert, change and deletion of a row is kept by the database itself."""

from collections.abc import Callable
from typing import Any

import pghistory


def audited(**options: Any) -> Callable[[Any], Any]:
    """Class decorator that records who changed what and when, raw SQL and bulk updates included."""
    track: Callable[[Any], Any] = pghistory.track(
        pghistory.InsertEvent(), pghistory.UpdateEvent(), pghistory.DeleteEvent(), **options
    )
    return track
