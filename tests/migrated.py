"""A migrated database to begin each run from: the migrations take longer than most tests.

The pattern is made anew, by the migrations themselves, whenever one of them or the lock file
differs from what it was made with.
"""

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

from config.local.places import PROJECT, locked, servers_folder
from config.local.servers import LocalServers


def pattern() -> Path:
    """The data of a server that ended and whose database has every migration."""
    with locked(servers_folder() / "migrated.lock"):
        made = LocalServers(f"migrated-{_key()}", durable=True)
        done = made.home / "done"
        if not done.exists():
            for older in servers_folder().glob("migrated-*/"):
                shutil.rmtree(older)
            _migrate(made)
            done.touch()
        return made.postgres.data


def _key() -> str:
    files = sorted(PROJECT.glob("*/migrations/*.py"))
    digest = hashlib.sha256()
    for file in (PROJECT / "requirements.lock", *files):
        digest.update(f"{file.relative_to(PROJECT)}\n".encode() + file.read_bytes())
    digest.update(os.environ.get("POSTGRES_BIN", "").encode())
    return digest.hexdigest()[:12]


def _migrate(made: LocalServers) -> None:
    made.join()
    try:
        given = {
            "DJANGO_ENV": "test",
            "DJANGO_SETTINGS_MODULE": "config.settings",
            "DATABASE_URL": made.postgres.url(),
            "REDIS_URL": made.valkey.url(),
        }
        command = [sys.executable, "manage.py", "migrate", "--verbosity", "0"]
        subprocess.run(command, cwd=PROJECT, env=os.environ | given, check=True)  # noqa: S603
    finally:
        made.leave()
