"""Export on a page: asked for, followed, saved by the person who asked and by nobody else."""

import zipfile
from io import BytesIO
from typing import Any

import pytest
from django.test import Client

from tests import railway
from tests.turnouts.sheets import bring_in
from turnouts.models import ExportFile, LongRun, Person, Turnout
from turnouts.services.export_runs import KEPT_FOR, carry_out_export, take_away_old_files

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("kept_files")]

KEY = "6f1b9c1e-3b53-4b0e-9d53-0d9f3f0c7a11"


def ask(client: Client, **chosen: Any) -> Any:
    return client.post("/export/", {"form": "zip", "key": KEY} | chosen)


def written(client: Client, **chosen: Any) -> LongRun:
    ask(client, **chosen)
    return carry_out_export(run_id=LongRun.objects.latest("requested_at").pk)


def test_records_are_taken_out_as_files_that_come_in_again(
    as_engineer: Client, engineer: Person, spot: Turnout
) -> None:
    railway.install(railway.component(serial="F-77"), spot)
    run = written(as_engineer, sheet=["components"])

    answer = as_engineer.get(f"/export/{run.pk}/file/")

    content = answer.getvalue()
    packed = zipfile.ZipFile(BytesIO(content))
    assert packed.namelist() == ["components.csv"]
    assert "F-77" in packed.read("components.csv").decode("utf-8-sig")
    assert bring_in(engineer, [("x.zip", content)], dry_run=True).changes_nothing


@pytest.mark.parametrize(
    ("form", "content_type"),
    [
        ("zip", "application/zip"),
        ("xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    ],
)
def test_the_file_is_saved_under_its_name_and_kept_by_nobody_on_the_way(
    as_engineer: Client, form: str, content_type: str
) -> None:
    run = written(as_engineer, form=form)

    answer = as_engineer.get(f"/export/{run.pk}/file/")

    assert answer.getvalue()
    name = ExportFile.objects.get().name
    assert name.endswith(f".{form}")
    assert answer["Content-Type"] == content_type
    assert answer["Content-Disposition"] == f'attachment; filename="{name}"'
    assert answer["Cache-Control"] == "private, no-store"
    assert answer["X-Content-Type-Options"] == "nosniff"


def test_the_page_follows_the_run_and_then_leads_to_the_file(as_engineer: Client) -> None:
    address = ask(as_engineer).headers["Location"]
    run = LongRun.objects.get()
    waiting = as_engineer.get(address).content.decode()
    assert f'hx-get="/runs/{run.pk}/"' in waiting
    assert "/file/" not in waiting

    carry_out_export(run_id=run.pk)
    done = as_engineer.get(address).content.decode()

    assert f'href="/export/{run.pk}/file/"' in done
    assert "hx-get" not in done
    assert f'href="{address}"' in as_engineer.get("/export/").content.decode()


def test_before_it_is_written_the_file_is_refused_in_a_sentence(as_engineer: Client) -> None:
    answer = as_engineer.get(f"{ask(as_engineer).headers['Location']}file/")

    assert answer.status_code == 409
    assert "still being written" in answer.content.decode()


def test_a_file_taken_away_is_said_to_be(as_engineer: Client) -> None:
    run = written(as_engineer)
    take_away_old_files(now=ExportFile.objects.get().made_at + 2 * KEPT_FOR)

    text = as_engineer.get(f"/export/{run.pk}/").content.decode()

    assert "taken away after 7 days" in text
    assert "/file/" not in text
    assert as_engineer.get(f"/export/{run.pk}/file/").status_code == 409


def test_the_file_of_somebody_else_is_not_there(as_engineer: Client, client: Client) -> None:
    run = written(as_engineer)
    client.force_login(railway.person("engineer"))

    for address in (f"/export/{run.pk}/", f"/export/{run.pk}/file/"):
        assert client.get(address).status_code == 404


def test_a_second_click_writes_one_file(as_engineer: Client) -> None:
    first, second = (ask(as_engineer) for _ in range(2))

    assert first.headers["Location"] == second.headers["Location"]
    assert LongRun.objects.count() == 1


def test_a_sheet_nobody_may_see_is_neither_shown_nor_taken_out(
    client: Client, spot: Turnout
) -> None:
    client.force_login(railway.person("welder", spot.territory))

    assert 'value="role_grants"' not in client.get("/export/").content.decode()
    assert ask(client, sheet=["role_grants"]).status_code == 403
    assert not LongRun.objects.exists()


def test_a_sheet_that_is_none_is_refused_on_the_page(as_engineer: Client) -> None:
    answer = ask(as_engineer, sheet=["wagons"])

    assert answer.status_code == 400
    assert "wagons is none of the choices" in answer.content.decode()


def test_values_are_written_in_the_readers_own_units(client: Client, spot: Turnout) -> None:
    for unit, heading in (("km/h", "speed_through [km/h]"), ("mph", "speed_through [mph]")):
        client.force_login(railway.person("engineer", spot.territory, speed_unit=unit))
        run = written(client, sheet=["turnouts"])
        content = client.get(f"/export/{run.pk}/file/").getvalue()
        text = zipfile.ZipFile(BytesIO(content)).read("turnouts.csv").decode("utf-8-sig")
        assert heading in text.splitlines()[0]
