"""A production site starts with safe settings or not at all."""

import pytest
from django.core.exceptions import ImproperlyConfigured

from config import environment
from tests.config.conftest import PRODUCTION, Run

SET_UP = ("-c", "import django; django.setup()")


@pytest.mark.parametrize(
    "name",
    ["SECRET_KEY", "DATABASE_URL", "REDIS_URL", "ALLOWED_HOSTS", "MEDIA_ROOT", "EMAIL_URL"],
)
def test_production_refuses_to_start_without(name: str, run: Run) -> None:
    given = {key: value for key, value in PRODUCTION.items() if key != name}
    done = run(*SET_UP, **given)
    assert done.returncode != 0
    assert f"ImproperlyConfigured: {name} is not set. Set it to " in done.stderr


def test_without_djangos_mode_the_settings_are_productions(run: Run) -> None:
    ask = "import django; django.setup(); from django.conf import settings as s; print("
    ask += "s.MODE, s.DEBUG, s.SESSION_COOKIE_SECURE, s.CSRF_COOKIE_SECURE, s.SECURE_SSL_REDIRECT,"
    ask += (
        "s.SECURE_HSTS_SECONDS > 0, 'CompressedManifest' in s.STORAGES['staticfiles']['BACKEND'],"
    )
    ask += "bool(s.DATABASES['default']['OPTIONS']['pool']))"
    done = run("-c", ask, **PRODUCTION)
    assert done.stdout.split() == ["production", "False", *["True"] * 6], done.stderr


def test_the_deployment_check_finds_nothing(run: Run) -> None:
    done = run("manage.py", "check", "--deploy", "--fail-level", "WARNING", **PRODUCTION)
    assert done.returncode == 0, done.stderr
    assert "no issues (0 silenced)" in done.stdout + done.stderr


def test_the_command_line_starts_no_local_server_for_a_production_site(run: Run) -> None:
    """One setting that is set makes it production; the demo is for when none is."""
    given = {key: value for key, value in PRODUCTION.items() if key != "DATABASE_URL"}
    done = run("manage.py", "check", **given)
    assert done.returncode != 0
    assert "DATABASE_URL is not set" in done.stderr
    assert "local demo" not in done.stderr


@pytest.mark.parametrize("key", ["short", "a" * 60, "ab" * 25])
def test_a_secret_that_can_be_guessed_is_refused(key: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SECRET_KEY", key)
    with pytest.raises(ImproperlyConfigured, match="SECRET_KEY is too easy to guess"):
        environment.secret_key()


def test_a_host_that_stands_for_every_name_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ALLOWED_HOSTS", "frogs.example, *")
    with pytest.raises(ImproperlyConfigured, match=r"ALLOWED_HOSTS must list host names"):
        environment.allowed_hosts()


def test_hosts_are_read_from_a_list_with_commas(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ALLOWED_HOSTS", "frogs.example, points.example,")
    assert environment.allowed_hosts() == ["frogs.example", "points.example"]


def test_only_postgresql_is_taken_for_the_database(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DATABASE_URL", "sqlite:///records.db")
    with pytest.raises(ImproperlyConfigured, match="DATABASE_URL must name a PostgreSQL server"):
        environment.database()


def test_only_redis_is_taken_for_the_queue(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REDIS_URL", "amqp://localhost")
    with pytest.raises(ImproperlyConfigured, match="REDIS_URL must begin with redis://"):
        environment.redis_url()


def test_an_unknown_mode_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DJANGO_ENV", "prod")
    with pytest.raises(ImproperlyConfigured, match="one of production, demo, test"):
        environment.mode()


@pytest.mark.parametrize(
    ("url", "cache"),
    [
        ("redis://host", "redis://host/1"),
        ("redis://:word@host:6379/0", "redis://:word@host:6379/1"),
        ("rediss://host/4?ssl_cert_reqs=required", "rediss://host/5?ssl_cert_reqs=required"),
    ],
)
def test_emptying_the_cache_cannot_empty_the_queue(url: str, cache: str) -> None:
    assert environment.next_redis_database(url) == cache
