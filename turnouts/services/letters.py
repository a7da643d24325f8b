"""Sending the e-mails that wait, of whatever app.

One that could not be sent says why and is tried again; one that was sent is never sent twice,
whatever happens to the queue.
"""

from datetime import datetime
from smtplib import SMTPException
from typing import Any

from django.core.mail import send_mail
from django.db import transaction

from turnouts.models.letters import Letter

MOST_TRIES = 24


def send_letters(kind: type[Letter], *, at: datetime) -> int:
    """Send every letter of a kind that waits; gives how many went out."""
    rows: Any = kind._default_manager
    waiting = rows.filter(sent_at__isnull=True, tries__lt=MOST_TRIES)
    return sum(_send(rows, pk, at) for pk in waiting.values_list("pk", flat=True))


@transaction.atomic
def _send(rows: Any, pk: int, at: datetime) -> bool:
    """One letter by one worker; a fault of the mail server is kept with the letter."""
    locked = rows.select_for_update(skip_locked=True, of=("self",)).select_related("person")
    letter = locked.filter(pk=pk, sent_at__isnull=True).first()
    if letter is None:
        return False
    letter.tries += 1
    try:
        send_mail(letter.subject, letter.text, None, [letter.person.email])
        letter.sent_at, letter.fault = at, ""
    except (SMTPException, OSError) as fault:
        letter.fault = f"{type(fault).__name__}: {fault}"[:300]
    letter.save(update_fields=["tries", "sent_at", "fault"])
    return letter.sent_at is not None
