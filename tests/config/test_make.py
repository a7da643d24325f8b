"""The commands of the README exist, and say what is wrong on a machine that lacks something."""

import subprocess
from pathlib import Path

import pytest

from config.local.places import PROJECT

TARGETS = ["setup", "demo", "test", "lint", "types", "imports", "migrations"]
TARGETS += ["lock", "browser", "clean"]


def make(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # noqa: S603
        ["make", *arguments],  # noqa: S607
        cwd=PROJECT,
        capture_output=True,
        text=True,
    )


@pytest.mark.parametrize("target", TARGETS)
def test_make_knows(target: str) -> None:
    done = make("--dry-run", target)
    assert done.returncode == 0, done.stderr


def test_another_python_is_refused_with_a_sentence(tmp_path: Path) -> None:
    other = tmp_path / "python3.12"
    other.write_text("#!/bin/sh\nexit 1\n")
    other.chmod(0o755)
    done = make("setup", f"PYTHON={other}")
    assert done.returncode != 0
    assert f"Python 3.11 is needed; '{other}' is not." in done.stderr


def test_serve_0_stops_before_serving() -> None:
    assert "--no-serve" in make("--dry-run", "demo", "SERVE=0").stdout
    assert "--no-serve" not in make("--dry-run", "demo").stdout
