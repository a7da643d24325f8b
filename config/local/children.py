"""Child processes that never outlive the process that started them."""

import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

_PATIENCE_S = 15.0
_PR_SET_PDEATHSIG = 1
_libc = ctypes.CDLL(None) if sys.platform == "linux" else None


class ChildError(Exception):
    """A child failed or ended when it should not have; the text names it."""


class Child:
    """One running program, leader of its own process group; its output goes to `log` if given."""

    def __init__(self, name: str, command: Sequence[str], log: Path | None = None) -> None:
        self.name = name
        self.log = log
        output = log.open("wb") if log else None
        # On the terminal people read what a step prints; its log would only drown that.
        environment = os.environ if log else os.environ | {"LOG_LEVEL": "WARNING"}
        self._process = subprocess.Popen(  # noqa: S603 - the callers' own programs
            command,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=output,
            env=environment,
            start_new_session=True,  # Ctrl-C reaches the runner alone, which ends them in order
            preexec_fn=_end_with_parent,
        )
        if output:
            output.close()

    def status(self) -> int | None:
        """Its exit status, or None while it runs."""
        return self._process.poll()

    def stop(self) -> None:
        """Ask it to end; after some patience make it, with whatever it started itself."""
        if self.status() is None:
            self._process.terminate()
            try:
                self._process.wait(_PATIENCE_S)
            except subprocess.TimeoutExpired:
                print(f"The {self.name} did not end when asked; it is made to.", file=sys.stderr)
        try:
            os.killpg(self._process.pid, signal.SIGKILL)
        except ProcessLookupError:
            return  # the whole group has ended, as it should
        self._process.wait()

    def last_words(self) -> str:
        """The end of its log, for a sentence about its failure."""
        if self.log is None:
            return ""
        lines = self.log.read_text(errors="replace").splitlines()[-15:]
        return "\n" + "\n".join(lines) + f"\n(all of it: {self.log})"


class Children:
    """The running children; ends them all, the last started first."""

    def __init__(self, logs: Path) -> None:
        self._logs = logs
        self._running: list[Child] = []

    def start(self, name: str, *command: str) -> None:
        """Start one that is to run until the end."""
        self._logs.mkdir(parents=True, exist_ok=True)
        self._running.append(Child(name, command, self._logs / f"{name.replace(' ', '-')}.log"))

    def run(self, name: str, *command: str) -> None:
        """Run one to its end, output on the terminal; ChildError when it or another one fails."""
        child = Child(name, command)
        try:
            while child.status() is None:
                self.check()
                time.sleep(0.05)
        finally:
            child.stop()
        if child.status():
            raise ChildError(f"The step '{name}' failed with exit status {child.status()}.")

    def check(self) -> None:
        """ChildError, naming it, when one that is to run has ended."""
        for child in self._running:
            if child.status() is not None:
                raise ChildError(
                    f"The {child.name} ended by itself with exit status {child.status()}:"
                    f"{child.last_words()}"
                )

    def stop(self) -> None:
        """End them all."""
        while self._running:
            self._running.pop().stop()


def _end_with_parent() -> None:
    """On Linux the kernel itself ends the child when the runner is killed without warning."""
    if _libc is not None:
        _libc.prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
