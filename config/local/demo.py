"""The demo from an empty folder to a served site, until Ctrl-C."""

import fcntl
import os
import signal
import socket
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

from config.local.children import ChildError, Children
from config.local.places import LOCAL, LocalServerError
from config.local.servers import provide
from config.local.terminal import foreground
from config.probe import answers

_PATIENCE_S = 60.0
_HOST = os.environ.get("HOST", "127.0.0.1")
_PORT = int(os.environ.get("PORT", "8000"))
_ADDRESS = f"http://{'127.0.0.1' if _HOST == '0.0.0.0' else _HOST}:{_PORT}"  # noqa: S104
_PYTHON = sys.executable


def demo(*, serve: bool) -> int:
    """Prepare the demo and, if told to, serve it until Ctrl-C. Returns the exit status."""
    # A shell ignores Ctrl-C in what it starts in the background; here it always ends the demo.
    for name in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(name, signal.default_int_handler)
    children = Children(LOCAL / "log")
    serving = False
    try:
        with foreground(), _only_one():
            try:
                _require_free_port(serve)
                _prepare(children)
                if serve:
                    _serve(children)
                    serving = True
                    _wait(children)
            finally:
                for name in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
                    signal.signal(name, signal.SIG_IGN)  # nothing interrupts the ending
                children.stop()
    except KeyboardInterrupt:
        print("\nStopped." if serving else "\nStopped before the demo was ready.", flush=True)
        return 0 if serving else 130
    except (ChildError, LocalServerError) as error:
        print(f"\n{error}", file=sys.stderr, flush=True)
        return 1
    return 0


def _prepare(children: Children) -> None:
    provide("demo")
    _say("Bringing the database up to date")
    children.run("database", _PYTHON, "manage.py", "migrate", "--verbosity", "0")
    children.start("worker", _PYTHON, "-m", "celery", "-A", "config", "worker", "--loglevel=INFO")
    children.run("demo railway", _PYTHON, "manage.py", "demo")


def _serve(children: Children) -> None:
    beat = ("beat", "--loglevel=INFO", "--pidfile=", f"--schedule={LOCAL / 'beat-schedule'}")
    children.start("scheduler", _PYTHON, "-m", "celery", "-A", "config", *beat)
    where = ("--host", _HOST, "--port", str(_PORT))
    web = ("--interface", "wsgi", "--blocking-threads", "4", "--workers-kill-timeout", "5")
    children.start("web server", _PYTHON, "-m", "granian", "config.wsgi:application", *where, *web)
    deadline = time.monotonic() + _PATIENCE_S
    while not answers(f"{_ADDRESS}/health/ready"):
        children.check()
        if time.monotonic() > deadline:
            raise ChildError(f"The web server does not answer at {_ADDRESS}/health/ready.")
        time.sleep(0.1)
    _say(f"The demo is served at {_ADDRESS}/ (logs in {LOCAL / 'log'}). Ctrl-C ends it.")


def _wait(children: Children) -> None:
    while True:
        children.check()
        time.sleep(0.2)


@contextmanager
def _only_one() -> Iterator[None]:
    """One demo at a time: two would seed one database and listen on one port."""
    LOCAL.mkdir(mode=0o700, exist_ok=True)
    with (LOCAL / "demo.lock").open("a+") as handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            handle.seek(0)
            raise ChildError(
                f"A demo runs already: {handle.read().strip()}. End it with Ctrl-C first."
            ) from None
        handle.truncate(0)
        handle.write(f"process {os.getpid()}, {_ADDRESS}/\n")
        handle.flush()
        yield


def _require_free_port(serve: bool) -> None:
    """Say at once, not after the seeding, that another program has the port."""
    if not serve:
        return
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((_HOST, _PORT))
        except OSError as error:
            raise ChildError(
                f"{_HOST}:{_PORT} cannot be used ({error.strerror}). "
                "Choose another port: make demo PORT=8001"
            ) from None


def _say(sentence: str) -> None:
    print(sentence, flush=True)
