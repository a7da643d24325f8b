"""Takes Ctrl-C for the runner alone.

`make` started us and would answer Ctrl-C itself with an error, even when everything ended as it
should. So the runner takes the terminal's foreground for itself, as a shell does for its jobs.
"""

import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def foreground() -> Iterator[None]:
    """Own the terminal while the block runs; without one, nothing is changed."""
    if not _shares_the_foreground():
        yield
        return
    before = os.getpgrp()
    signal.signal(signal.SIGTTOU, signal.SIG_IGN)  # or taking the foreground would suspend us
    signal.signal(signal.SIGTSTP, signal.SIG_IGN)  # the shell knows nothing of our own group
    os.setpgid(0, 0)
    os.tcsetpgrp(sys.stdin.fileno(), os.getpgrp())
    try:
        yield
    finally:
        os.tcsetpgrp(sys.stdin.fileno(), before)


def _shares_the_foreground() -> bool:
    """Whether we are in the terminal's foreground without being the first process on it."""
    return (
        sys.stdin.isatty()
        and os.getpgrp() == os.tcgetpgrp(sys.stdin.fileno())
        and os.getsid(0) != os.getpid()
    )
