"""New decisions on their way into the database, thousands at a time."""

import json
from collections.abc import Sequence
from typing import Any

from django.db import connection
from psycopg import sql

from repairs.models import Decision

FIELDS = [field for field in Decision._meta.local_concrete_fields if not field.primary_key]


def replace_decisions(new: Sequence[Decision]) -> None:
    """Put the new decisions in the place of those that stand, inside the caller's transaction.

    The rows are copied in: an INSERT of details this long is mostly the escaping of quotes.
    Triggers see copied rows as they see any others. For whom the work is done is told to the
    audit by the UPDATE before it, which holds to the end of the transaction.
    """
    Decision.objects.current().filter(defect__in=[row.defect_id for row in new]).update(
        current=False
    )
    names: list[Any] = [sql.Identifier(str(field.column)) for field in FIELDS]
    table = sql.Identifier(Decision._meta.db_table)
    statement = sql.SQL("COPY {} ({}) FROM STDIN").format(table, sql.SQL(", ").join(names))
    with connection.cursor() as cursor, cursor.copy(statement) as copy:
        for row in new:
            copy.write_row([_cell(field, row) for field in FIELDS])


def _cell(field: Any, row: Decision) -> Any:
    value = getattr(row, field.attname)
    return json.dumps(value) if field.name == "detail" else value
