"""What happens every night without anybody asking: open defects are judged again, and estimates by
an edition of a procedure that is no longer in force are made anew.

A date may have passed, or a reading grown too old; the defect list then shows it in the morning.
"""

from datetime import datetime

from django.contrib.auth.hashers import make_password
from django.utils import timezone

from repairs.services.queue import request_renewal, request_triage
from turnouts.analysis.terms import Role
from turnouts.models import LongRun, Person, RoleGrant


def judge_again(*, at: datetime) -> LongRun:
    """Queue the night's judging as on the day of ``at``; once a day, however often it is asked."""
    day = timezone.localdate(at)
    return request_triage(by=_timetable(), on=day, request_key=f"nightly triage {day}")


def renew_tonight(*, at: datetime) -> LongRun:
    """Queue the night's new estimates as on the day of ``at``; once a day."""
    day = timezone.localdate(at)
    return request_renewal(by=_timetable(), on=day, request_key=f"nightly estimates {day}")


def _timetable() -> Person:
    """Who stands behind the steps of the night: somebody nobody can log in as.

    An inspector may judge defects, a supervisor may estimate; it needs no other right.
    """
    person, _ = Person.objects.get_or_create(
        username="timetable", defaults={"first_name": "Timetable", "password": make_password(None)}
    )
    for role in (Role.INSPECTOR, Role.SUPERVISOR):
        RoleGrant.objects.get_or_create(person=person, role=role.value, territory=None)
    return person
