"""The service worker's text: it changes with its files, which are not read anew for each phone."""

import os
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.test import Client

from repairs.pages import work

ADDRESS = "/sheets/trackside-worker.js"


def test_each_file_is_named_once_and_is_there() -> None:
    assert len(set(work.SHELL)) == len(work.SHELL)  # a name given twice would stop the keeping
    assert all(finders.find(name) for name in work.SHELL)


def test_no_file_is_read_again_while_none_has_changed(monkeypatch: pytest.MonkeyPatch) -> None:
    first = Client().get(ADDRESS).content
    read: list[Path] = []
    own = Path.read_bytes

    def counting(path: Path) -> bytes:
        read.append(path)
        return own(path)

    monkeypatch.setattr(Path, "read_bytes", counting)
    assert Client().get(ADDRESS).content == first
    assert [path for path in read if "static" in path.parts] == []


def test_a_changed_file_makes_another_version(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "page.js"
    file.write_text("one")
    monkeypatch.setattr(work.finders, "find", lambda name: str(file))
    before = work._version(["page.js"])
    assert work._version(["page.js"]) == before
    file.write_text("two")
    os.utime(file, ns=(1, 2_000_000_000))
    assert work._version(["page.js"]) != before
