"""Where the local servers keep their files, and who else is using them.

Everything lies under `.local/` (LOCAL_FOLDER names another folder), except when PostgreSQL could
not live there: it refuses to run as root, and the user it then runs as (`nobody`) may not reach a
project below a closed home folder; and a socket's whole path may have about 100 letters. Then the
folder lies under /var/tmp and `.local/elsewhere` points at it. Nothing above it is ever changed.
"""

import fcntl
import hashlib
import importlib.util
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

PROJECT = Path(__file__).resolve().parent.parent.parent
LOCAL = Path(os.environ.get("LOCAL_FOLDER", PROJECT / ".local")).resolve()
_LONGEST_PATH = 58  # a socket's path may have 103 letters on macOS, 107 on Linux; we add 44


class LocalServerError(Exception):
    """A local server could not be used; the text says what to do."""


def servers_folder() -> Path:
    """The folder of the local servers' files, made when missing."""
    LOCAL.mkdir(mode=0o700, exist_ok=True)
    inside = LOCAL / "servers"
    if os.getuid() != 0 and len(str(inside)) <= _LONGEST_PATH:
        inside.mkdir(mode=0o700, exist_ok=True)
        return inside
    return _outside()


def _outside() -> Path:
    digest = hashlib.sha256(str(LOCAL).encode()).hexdigest()[:12]
    folder = Path("/var/tmp") / f"frogs-and-points-{os.getuid()}-{digest}"  # noqa: S108
    folder.mkdir(mode=0o711, exist_ok=True)
    found = folder.lstat()
    if found.st_uid != os.getuid() or not stat.S_ISDIR(found.st_mode):
        raise LocalServerError(f"{folder} belongs to somebody else. Remove it and try again.")
    folder.chmod(0o711)  # `nobody` may pass through, not look around
    link = LOCAL / "elsewhere"
    if not link.is_symlink() or link.readlink() != folder:
        made = LOCAL / f"elsewhere.{os.getpid()}"
        made.symlink_to(folder)
        made.replace(link)
    return folder


@contextmanager
def locked(file: Path) -> Iterator[None]:
    """Wait for, and hold, the lock on `file`; a process that dies lets go by itself."""
    with file.open("w") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield


class Users:
    """The processes that use one set of servers, counted by shared locks that die with them."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / "users.lock"
        self._handle: IO[str] | None = None

    def join(self) -> None:
        """Be counted."""
        self._handle = self._file.open("a")
        fcntl.flock(self._handle, fcntl.LOCK_SH)

    def leave(self) -> None:
        """Be counted no more."""
        if self._handle is not None:
            self._handle.close()
            self._handle = None

    def any(self) -> bool:
        """Whether somebody is counted."""
        with self._file.open("a") as handle:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                return True
        return False


def write_private(file: Path, text: str) -> None:
    """Write a file that only this user can read."""
    handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(handle, "w") as stream:
        stream.write(text)


def wheel_folder(name: str, variable: str) -> Path:
    """Where a wheel's files lie, without importing it: its own launcher is not for us."""
    spec = importlib.util.find_spec(name)
    if spec is None or not spec.submodule_search_locations:
        raise LocalServerError(
            f"The wheel {name} is not installed. Run `make setup`, or set {variable} to the "
            "address of a server."
        )
    return Path(spec.submodule_search_locations[0])
