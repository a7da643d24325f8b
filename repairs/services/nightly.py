"""What happens every night without anybody asking: open defects are judged again.

A date may have passed, or a reading grown too old; the defect list then shows it in the morning.
"""

from datetime import datetime

from django.contrib.auth.hashers import make_password
from django.utils import timezone

from repairs.services.queue import request_triage
from turnouts.analysis.terms import Role
from turnouts.models import LongRun, Person, RoleGrant


def judge_again(*, at: datetime) -> LongRun:
    """Queue the night's judging as on the day of ``at``; once a day, however often it is asked."""
    day = timezone.localdate(at)
    return request_triage(by=_timetable(), on=day, request_key=f"nightly triage {day}")


def _timetable() -> Person:
    """Who stands behind the steps of the night: somebody nobody can log in as."""
    person, _ = Person.objects.get_or_create(
        username="timetable", defaults={"first_name": "Timetable", "password": make_password(None)}
    )
    RoleGrant.objects.get_or_create(person=person, role=Role.INSPECTOR.value, territory=None)
    return person
