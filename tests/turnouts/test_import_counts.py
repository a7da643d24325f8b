"""After an import the database counts anew what changed by a meaningful part, and nothing else.

The limit is PostgreSQL's own: 50 rows and a tenth of those counted last (its manual, chapter
Automatic Vacuuming, autovacuum_analyze_threshold and autovacuum_analyze_scale_factor).
"""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.turnouts.sheets import bring_in, only
from turnouts.models import Instrument, Person

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("kept_files", "railway_is_in")]


def instruments(first: int, many: int) -> list[tuple[str, bytes]]:
    rows = "".join(f"X{n},Gauge {n},0.2\n" for n in range(first, first + many))
    return only(instruments="code,name,uncertainty [mm]\n" + rows)


def counted_anew(by: Person, files: list[tuple[str, bytes]], *, dry_run: bool = False) -> list[str]:
    with CaptureQueriesContext(connection) as told:
        report = bring_in(by, files, dry_run=dry_run)
    assert report.applied is not dry_run
    return [q["sql"] for q in told.captured_queries if q["sql"].startswith("ANALYZE")]


@pytest.fixture
def counted(by: Person) -> int:
    """Instruments there are, all of them counted by the database."""
    with connection.cursor() as cursor:
        cursor.execute(f"ANALYZE {Instrument._meta.db_table}")
    return Instrument.objects.count()


def test_few_rows_leave_the_counts_and_one_more_renews_those_of_their_table(
    by: Person, counted: int
) -> None:
    assert counted == 1
    assert counted_anew(by, instruments(0, 50)) == []
    assert counted_anew(by, instruments(100, 51)) == [f'ANALYZE "{Instrument._meta.db_table}"']


def test_of_a_larger_table_more_rows_must_change(by: Person, counted: int) -> None:
    counted_anew(by, instruments(0, 199))  # 200 with the one there was: 50 and a tenth are 70
    assert Instrument.objects.count() == 200
    assert counted_anew(by, instruments(1000, 70)) == []
    assert len(counted_anew(by, instruments(2000, 71))) == 1


def test_a_dry_run_counts_nothing(by: Person, counted: int) -> None:
    assert counted_anew(by, instruments(0, 500), dry_run=True) == []


def test_what_is_imported_again_unchanged_counts_nothing(by: Person, counted: int) -> None:
    counted_anew(by, instruments(0, 199))
    assert counted_anew(by, instruments(0, 199)) == []
