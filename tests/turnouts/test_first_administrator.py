"""The first administrator of a new installation."""

import io
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from tests import railway
from turnouts.access import Action, may
from turnouts.models import Person

pytestmark = pytest.mark.django_db


def make(monkeypatch: pytest.MonkeyPatch, password: str) -> Any:
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{password}\n"))
    return call_command("first_administrator", "boss", stdout=io.StringIO())


def test_the_first_administrator_may_grant_roles_everywhere(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    make(monkeypatch, "a long and odd word")

    boss = Person.objects.get(username="boss")
    assert boss.check_password("a long and odd word")
    assert may(boss, Action.GRANT, railway.territory())
    assert not may(boss, Action.PLAN)


def test_there_is_a_first_administrator_only_once(monkeypatch: pytest.MonkeyPatch) -> None:
    railway.person("administrator")

    with pytest.raises(CommandError, match="There is an administrator already"):
        make(monkeypatch, "a long and odd word")
    assert not Person.objects.filter(username="boss").exists()


def test_a_weak_password_is_refused_with_a_sentence_and_nobody_is_made(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with pytest.raises(CommandError, match="too short"):
        make(monkeypatch, "frog")
    assert not Person.objects.exists()
