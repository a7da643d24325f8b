"""The runner's children end when it ends, and one that fails is named."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.local.children import ChildError, Children
from config.local.places import PROJECT

SLEEP = ("sleep", "60")


@pytest.fixture
def children(tmp_path: Path) -> Iterator[Children]:
    found = Children(tmp_path)
    yield found
    found.stop()


def lives(process: int) -> bool:
    """Whether a process runs; one that ended but was not yet fetched does not."""
    shown = subprocess.run(  # noqa: S603
        ["ps", "-o", "stat=", "-p", str(process)],  # noqa: S607
        capture_output=True,
        text=True,
    )
    return shown.stdout.strip() not in ("", "Z", "Zs")


def number_in(file: Path) -> int:
    """The process number that a shell writes into `file`."""
    for _ in range(500):
        if file.exists() and file.read_text().strip():
            return int(file.read_text())
        time.sleep(0.02)
    raise AssertionError(f"{file} was not written")


def test_a_step_that_fails_is_named_with_its_status(children: Children) -> None:
    with pytest.raises(ChildError, match=r"The step 'seeding' failed with exit status 3\."):
        children.run("seeding", "sh", "-c", "exit 3")


def test_a_step_that_succeeds_lets_the_next_begin(children: Children) -> None:
    children.run("seeding", "true")
    children.check()


def test_a_child_that_ends_by_itself_is_named_with_its_last_words(children: Children) -> None:
    children.start("worker", "sh", "-c", "echo 'no queue here' >&2; exit 4")
    with pytest.raises(ChildError, match=r"(?s)The worker ended by itself with exit status 4:.*no"):
        children.run("waiting", *SLEEP)


def test_what_a_child_started_ends_with_it(children: Children, tmp_path: Path) -> None:
    file = tmp_path / "grandchild"
    children.start("worker", "sh", "-c", f"sleep 60 & echo $! > {file}; wait")
    grandchild = number_in(file)
    assert lives(grandchild)
    children.stop()
    assert not lives(grandchild)


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells a child of its parent's end")
def test_children_end_when_the_runner_is_killed_without_warning(tmp_path: Path) -> None:
    file = tmp_path / "child"
    program = f"""
import time
from pathlib import Path
from config.local.children import Children
Children(Path({str(tmp_path)!r})).start("worker", "sh", "-c", "echo $$ > {file}; exec sleep 60")
time.sleep(60)
"""
    with subprocess.Popen([sys.executable, "-c", program], cwd=PROJECT) as runner:  # noqa: S603
        child = number_in(file)
        assert lives(child)
        os.kill(runner.pid, 9)
    for _ in range(500):
        if not lives(child):
            return
        time.sleep(0.02)
    raise AssertionError("the child outlived its runner")
