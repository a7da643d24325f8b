"""Server time of each page on the railway that is in the database.

    .venv/bin/python manage.py make_railway --turnouts 2000 --seed 7
    .venv/bin/python -m tests.benchmarks.pages [words in the address]

Prints the median and the worst of nine requests in milliseconds, beside a page that asks nothing
of the database, taken in the same run.
"""

import os
import statistics
import sys
import time
from collections.abc import Iterator

REQUESTS = 9
REFERENCE = "/health/live"


def main() -> None:
    """Ask for each page as somebody who may see everything, and print what it took."""
    import django

    from config.local.servers import provide

    os.environ.setdefault("LOG_LEVEL", "ERROR")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    provide("demo")
    django.setup()
    from django.conf import settings
    from django.test import Client

    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, "testserver"]
    client = Client()
    client.force_login(_somebody(), backend="django.contrib.auth.backends.ModelBackend")
    print(f"{'page':<46}{'median ms':>10}{'worst ms':>10}")
    asked = sys.argv[1:]
    for address in [REFERENCE, *_pages()]:
        if not asked or address == REFERENCE or any(words in address for words in asked):
            _time(client, address)


def _somebody():  # type: ignore[no-untyped-def]
    from turnouts.analysis.terms import Role
    from turnouts.models import Person, RoleGrant

    person, _ = Person.objects.get_or_create(username="benchmark")
    for role in Role:
        RoleGrant.objects.get_or_create(person=person, role=role.value, territory=None)
    return person


def _pages() -> Iterator[str]:
    """Every kind of page, on the rows that have the most to show."""
    from django.db.models import Count

    from planning.models import WeekPlan
    from repairs.models import JobSheet, RepairJob
    from turnouts.models import Component, Defect, Turnout

    yield from ("/turnouts/", "/turnouts/?page=20", "/components/", "/components/?page=100")
    yield from ("/defects/", "/defects/?page=20", "/defects/?state=closed", "/jobs/", "/sheets/")
    yield from ("/import/", "/people/", "/own-settings/", "/certificates/", "/renewals/")
    yield from ("/network/", "/reviews/", "/running/", "/stock/", "/forecasts/")
    busiest = Turnout.objects.annotate(n=Count("defects")).order_by("-n").first()
    oldest = Component.objects.annotate(n=Count("defects")).order_by("-n").first()
    if busiest and oldest:
        yield f"/turnouts/{busiest.code}/"
        for component in (oldest, *_busiest_of_large_families()):
            yield from (f"/components/{component.serial}/", f"/components/{component.serial}/why/")
            yield f"/components/{component.serial}/weld-or-replace/"
    yield from ("/components/repeat/", "/components/warnings/", "/components/forecasts/")
    yield "/components/families/"
    if defect := Defect.objects.filter(decisions__isnull=False).first():
        yield from (f"/defects/{defect.reference}/", f"/defects/{defect.reference}/record/")
    if job := RepairJob.objects.first():
        yield f"/jobs/{job.reference}/"
    if sheet := JobSheet.objects.first():
        yield from (f"/sheets/{sheet.number}/", f"/sheets/{sheet.number}/paper/")
    if plan := WeekPlan.objects.annotate(n=Count("placed")).order_by("-n").first():
        yield f"/week/{plan.territory.code}/{plan.week}/"
    yield from ("/api/turnouts/", "/api/components/", "/api/defects/", "/api/decisions/")


def _busiest_of_large_families():  # type: ignore[no-untyped-def]
    """Of the three families with most components the one with most readings."""
    from django.db.models import Count

    from turnouts.models import Component

    families = Component.objects.order_by().values("kind", "design", "steel")
    for family in families.annotate(n=Count("pk")).order_by("-n")[:3]:
        del family["n"]
        rows = Component.objects.filter(**family)
        yield rows.annotate(n=Count("measurements")).order_by("-n").first()


def _time(client, address: str) -> None:  # type: ignore[no-untyped-def]
    answer = client.get(address)  # warms templates and connections
    took = [_once(client, address) for _ in range(REQUESTS)]
    worst, middle = max(took), statistics.median(took)
    status = "" if answer.status_code == 200 else f"  answered {answer.status_code}"
    print(f"{address:<46}{middle:>10.0f}{worst:>10.0f}{status}")


def _once(client, address: str) -> float:  # type: ignore[no-untyped-def]
    start = time.perf_counter()
    answer = client.get(address)
    if answer.streaming:
        b"".join(answer.streaming_content)
    return (time.perf_counter() - start) * 1000


if __name__ == "__main__":
    main()
