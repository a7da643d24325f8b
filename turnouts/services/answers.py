"""A request sent twice with one key is done once and answered the same."""

from collections.abc import Callable
from typing import Any

from django.db import transaction

from turnouts.models import KeptAnswer, Person
from turnouts.services.errors import Conflict, Refused

LONGEST_KEY = 80

Answer = tuple[int, Any]


@transaction.atomic
def answer_once(*, by: Person, key: str, asked: str, answer: Callable[[], Answer]) -> Answer:
    """The kept answer of this key, or that of ``answer``, kept with what it did.

    Two at once wait for one another at the unique key. A refusal keeps nothing, so the request
    may be put right and sent again. Raises Conflict when the key belongs to another request.
    """
    if len(key) > LONGEST_KEY:
        raise Refused(f"An Idempotency-Key has at most {LONGEST_KEY} characters.")
    row, is_new = KeptAnswer.objects.get_or_create(person=by, key=key, defaults={"asked": asked})
    if row.asked != asked:
        raise Conflict("This Idempotency-Key came with another request before; use a new one.")
    if is_new:
        row.status, row.body = answer()
        row.save(update_fields=["status", "body"])
    return row.status, row.body
