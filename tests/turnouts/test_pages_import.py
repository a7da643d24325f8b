"""Import on a page: looked at first, every bad row said, accepted once."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from turnouts.models import Component, LongRun, Person
from turnouts.services.imports import carry_out_import

pytestmark = pytest.mark.django_db

KEY = "6f1b9c1e-3b53-4b0e-9d53-0d9f3f0c7a11"
NEW = "serial,kind,design,steel\nF-900,frog,spring,manganese\n"
BAD = "serial,kind,design,steel\nF-901,frog,sprung,manganese\nF-902,frog,spring,manganese\n"


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


def hand_over(client: Client, content: str, key: str = KEY) -> Any:
    upload = SimpleUploadedFile("components.csv", content.encode(), "text/csv")
    return client.post("/import/", {"file": upload, "key": key})


def looked_at(client: Client, content: str) -> tuple[LongRun, str]:
    address = hand_over(client, content).headers["Location"]
    run = LongRun.objects.latest("requested_at")
    carry_out_import(run_id=run.pk)
    return run, client.get(address).content.decode()


def test_a_file_is_looked_at_before_anything_is_kept(as_engineer: Client) -> None:
    _, text = looked_at(as_engineer, NEW)
    assert "nothing has been kept yet" in text
    assert "F-900" in text
    assert "Accept: keep all of it" in text
    assert not Component.objects.exists()


def test_what_was_looked_at_is_accepted_once(as_engineer: Client) -> None:
    run, _ = looked_at(as_engineer, NEW)
    first, second = (as_engineer.post(f"/import/{run.pk}/accept/") for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    carry_out_import(run_id=LongRun.objects.latest("requested_at").pk)
    assert "Kept." in as_engineer.get(first.headers["Location"]).content.decode()
    assert Component.objects.get().serial == "F-900"
    assert "You accepted it" in as_engineer.get(f"/import/{run.pk}/").content.decode()


def test_every_bad_row_is_said_with_sheet_row_and_column(as_engineer: Client) -> None:
    run, text = looked_at(as_engineer, BAD)
    assert "1 fault." in text
    row = text[text.index("Rows that cannot be taken") :]
    assert "components</th>" in row
    assert 'data-name="Row">2</td>' in row
    assert 'data-name="Column">design</td>' in row
    assert "sprung" in row
    assert "Accept" not in text
    answer = as_engineer.post(f"/import/{run.pk}/accept/", follow=True)
    assert "has no fault can be accepted" in answer.content.decode()
    assert not Component.objects.exists()


def test_a_second_click_looks_at_the_file_once(as_engineer: Client) -> None:
    first, second = (hand_over(as_engineer, NEW) for _ in range(2))
    assert first.headers["Location"] == second.headers["Location"]
    assert LongRun.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "content", "sentence"),
    [("components.csv", b"", "empty"), ("picture.gif", b"GIF89a....", "")],
)
def test_a_file_of_another_kind_is_refused_in_a_sentence(
    as_engineer: Client, name: str, content: bytes, sentence: str
) -> None:
    upload = SimpleUploadedFile(name, content)
    answer = as_engineer.post("/import/", {"file": upload, "key": KEY})
    if answer.status_code == 302:  # kept, and said to be unreadable when it is looked at
        carry_out_import(run_id=LongRun.objects.get().pk)
        text = as_engineer.get(answer.headers["Location"]).content.decode()
    else:
        text = answer.content.decode()
    assert 'class="fault"' in text or 'class="errorlist"' in text
    assert sentence in text
    assert "Accept" not in text


def test_progress_is_asked_for_while_it_runs_and_no_longer(
    as_engineer: Client, engineer: Person
) -> None:
    hand_over(as_engineer, NEW)
    run = LongRun.objects.get()
    waiting = as_engineer.get(f"/runs/{run.pk}/")
    assert f'hx-get="/runs/{run.pk}/"' in waiting.content.decode()
    assert "HX-Refresh" not in waiting.headers
    carry_out_import(run_id=run.pk)
    ended = as_engineer.get(f"/runs/{run.pk}/")
    assert "hx-get" not in ended.content.decode()
    assert ended.headers["HX-Refresh"] == "true"
