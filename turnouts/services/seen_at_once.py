"""Progress that is seen while the work is still inside its transaction."""

from collections.abc import Iterator
from contextlib import contextmanager
from time import monotonic

from django.db import connection

from turnouts.models import LongRun
from turnouts.services.runs import Progress

_SECONDS_BETWEEN = 0.5


@contextmanager
def progress_of(run: LongRun) -> Iterator[Progress]:
    """A progress function that writes through a connection of its own.

    The import's own transaction would keep its progress to itself until the end.
    """
    aside = connection.copy()
    told = float("-inf")

    def tell(done: int, total: int, words: str) -> None:
        nonlocal told
        if monotonic() - told < _SECONDS_BETWEEN and done < total:
            return
        told = monotonic()
        with aside.cursor() as cursor:
            cursor.execute(
                f"UPDATE {LongRun._meta.db_table} SET done=%s, total=%s, message=%s WHERE id=%s",  # noqa: S608
                [done, total, words[:300], run.pk],
            )

    try:
        yield tell
    finally:
        aside.close()
