"""The servers of the demo and the tests start, end and recover, and change nothing of others'."""

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from itertools import count
from pathlib import Path
from typing import LiteralString

import environ
import psycopg
import pytest
from redis import AuthenticationError, Redis

from config.local.places import LOCAL, PROJECT, LocalServerError, servers_folder
from config.local.postgres import Postgres
from config.local.servers import LocalServers, stop_unused
from config.local.valkey import ONCE

_number = count(1)


@pytest.fixture
def own() -> Iterator[LocalServers]:
    """Servers of this test's own, with data that outlives a restart."""
    name = f"trial-{os.getpid()}-{next(_number)}"
    found = LocalServers(name, durable=True)
    yield found
    found.leave()
    shutil.rmtree(found.home)


def connected(postgres: Postgres) -> psycopg.Connection:
    at = environ.Env.db_url_config(postgres.url())
    return psycopg.connect(host=at["HOST"], user=at["USER"], dbname=at["NAME"])


def ask(postgres: Postgres, query: LiteralString) -> object:
    with connected(postgres) as connection:
        row = connection.execute(query).fetchone()
    assert row is not None
    return row[0]


def keep_seven(postgres: Postgres) -> None:
    with connected(postgres) as connection:
        connection.execute("CREATE TABLE kept AS SELECT 7 AS n")


def modes(folders: list[Path]) -> list[tuple[str, int, int, int]]:
    return [(str(f), s.st_mode, s.st_uid, s.st_gid) for f in folders for s in [f.stat()]]


def postmaster(postgres: Postgres) -> int:
    return int((postgres.data / "postmaster.pid").read_text().split()[0])


def test_nothing_above_the_projects_own_folders_changes(own: LocalServers) -> None:
    """Started as root, the wheel's own launcher opens every parent folder and adds a user."""
    above = [*PROJECT.parents, *own.home.parent.parents, *LOCAL.parents, PROJECT]
    before = modes(above), Path("/etc/passwd").read_bytes(), Path("/etc/group").read_bytes()
    own.join()
    assert own.postgres.answers()
    after = modes(above), Path("/etc/passwd").read_bytes(), Path("/etc/group").read_bytes()
    assert before == after


def test_postgresql_listens_on_a_closed_socket_only_and_writes_safely(own: LocalServers) -> None:
    own.join(valkey=False)
    assert ask(own.postgres, "SHOW listen_addresses") == ""
    assert ask(own.postgres, "SHOW fsync") == "on"
    assert own.postgres.socket.stat().st_mode & 0o077 == 0
    assert own.postgres.data.stat().st_mode & 0o077 == 0
    assert not own.valkey.answers()


def test_btree_gist_which_refuses_double_bookings_is_there(own: LocalServers) -> None:
    own.join(valkey=False)
    query = "SELECT count(*) FROM pg_available_extensions WHERE name = 'btree_gist'"
    assert ask(own.postgres, query) == 1


def test_valkey_answers_on_this_machine_only_and_with_its_password_only(own: LocalServers) -> None:
    own.join(postgres=False)
    address = environ.Env.cache_url_config(own.valkey.url())["LOCATION"]
    client = Redis.from_url(address)
    with closing(client):
        assert client.ping()
        assert client.config_get("bind") == {"bind": "127.0.0.1"}
    port = client.connection_pool.connection_kwargs["port"]
    with closing(Redis(port=port, retry=ONCE)) as stranger, pytest.raises(AuthenticationError):
        stranger.ping()
    assert (own.valkey.home / "valkey.conf").stat().st_mode & 0o077 == 0


def test_the_data_outlives_a_restart(own: LocalServers) -> None:
    own.join()
    keep_seven(own.postgres)
    with closing(Redis.from_url(own.valkey.url())) as client:
        client.set("kept", "7")
    own.leave()
    assert not own.postgres.answers()
    assert not own.valkey.answers()
    own.join()
    assert ask(own.postgres, "SELECT n FROM kept") == 7
    with closing(Redis.from_url(own.valkey.url())) as client:
        assert client.get("kept") == b"7"


def test_both_servers_start_again_after_they_were_killed(own: LocalServers) -> None:
    own.join()
    keep_seven(own.postgres)
    os.kill(postmaster(own.postgres), signal.SIGKILL)
    with closing(Redis.from_url(own.valkey.url())) as client:
        os.kill(client.info()["process_id"], signal.SIGKILL)
    own.join()
    assert ask(own.postgres, "SELECT n FROM kept") == 7
    assert own.valkey.answers()


def test_a_process_number_that_went_to_a_stranger_stops_no_start(own: LocalServers) -> None:
    own.join(valkey=False)
    own.leave()
    with subprocess.Popen(["sleep", "60"]) as stranger:  # noqa: S607
        stale = own.postgres.data / "postmaster.pid"
        stale.write_text(f"{stranger.pid}\n{own.postgres.data}\n1\n5432\n\n\n\n")
        own.join(valkey=False)
        assert own.postgres.answers()
        assert stranger.poll() is None
        stranger.kill()


JOIN_AND_SAY_WHEN = """
import sys
from config.local.servers import LocalServers, stop_unused
servers = LocalServers(sys.argv[1], durable=sys.argv[2] == "durable")
servers.join()
print(servers.postgres.answers() and servers.valkey.answers(), flush=True)
sys.stdin.readline()
servers.leave()
"""


def another_process(joining: LocalServers) -> subprocess.Popen[str]:
    how = "durable" if joining.durable else "for a test"
    return subprocess.Popen(  # noqa: S603
        [sys.executable, "-c", JOIN_AND_SAY_WHEN, joining.home.name, how],
        cwd=PROJECT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


def test_two_that_start_at_once_share_and_the_last_to_leave_stops(own: LocalServers) -> None:
    with another_process(own) as first, another_process(own) as second:
        assert [p.stdout.readline() for p in (first, second) if p.stdout] == ["True\n"] * 2
        first.communicate("\n")
        assert own.postgres.answers()
        assert own.valkey.answers()
        second.communicate("\n")
    assert not own.postgres.answers()
    assert not own.valkey.answers()


def test_a_user_that_was_killed_does_not_keep_the_servers_running(own: LocalServers) -> None:
    with another_process(own) as killed:
        assert killed.stdout is not None
        assert killed.stdout.readline() == "True\n"
        killed.kill()
    assert own.postgres.answers()
    own.join()
    own.leave()
    assert not own.postgres.answers()


def test_what_a_killed_test_run_left_behind_goes_with_the_next_start(own: LocalServers) -> None:
    left = LocalServers(f"test-left-{os.getpid()}", durable=False)
    with another_process(left) as killed:
        assert killed.stdout is not None
        assert killed.stdout.readline() == "True\n"
        assert left.home.name in stop_unused(), "servers in use are named and left alone"
        assert left.postgres.answers()
        server = str(postmaster(left.postgres))
        killed.kill()
    own.join(postgres=False, valkey=False)
    assert not left.home.exists()
    shown = subprocess.run(["ps", "-o", "args=", "-p", server], capture_output=True, text=True)  # noqa: S603, S607
    assert str(left.home) not in shown.stdout


def test_a_folder_without_postgresqls_programs_is_refused_with_a_sentence(
    own: LocalServers, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("POSTGRES_BIN", str(tmp_path))
    with pytest.raises(LocalServerError, match="holds no PostgreSQL programs"):
        own.join(valkey=False)


def test_demo_and_tests_have_folders_of_their_own() -> None:
    """These tests' own server is not the demo's."""
    assert str(servers_folder() / "demo") not in os.environ["DATABASE_URL"]
