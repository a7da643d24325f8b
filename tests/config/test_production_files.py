"""What a site is made from holds no secret, no address of a registry, nothing unchecked."""

import re
import tomllib

import pytest
import yaml

from config.local.places import PROJECT

LOCK = (PROJECT / "requirements.lock").read_text()
SECRETS = ("SECRET_KEY", "POSTGRES_PASSWORD", "REDIS_PASSWORD")


def pins() -> dict[str, str]:
    """Each package in the lock file with the text that belongs to it."""
    parts = re.split(r"^(?=\S)", LOCK, flags=re.MULTILINE)
    return {part.split("==")[0].lower(): part for part in parts if part.strip()}


def plain(requirement: str) -> str:
    return re.split(r"[\[<>=~! ]", requirement)[0].lower()


def test_the_lock_file_names_no_address() -> None:
    assert "://" not in LOCK
    assert "index-url" not in LOCK
    assert "find-links" not in LOCK


def test_every_locked_package_has_one_version_and_its_hashes() -> None:
    for name, text in pins().items():
        assert re.match(r"[a-z0-9._-]+==[^\s]+", text), name
        assert "--hash=sha256:" in text, name


def test_the_lock_file_has_every_package_that_is_asked_for() -> None:
    project = tomllib.loads((PROJECT / "pyproject.toml").read_text())
    groups = project["dependency-groups"]
    asked = [*project["project"]["dependencies"], *groups["local"], *groups["dev"]]
    assert {plain(name) for name in asked} - pins().keys() == set()


def services() -> dict[str, dict[str, object]]:
    found: dict[str, dict[str, object]] = yaml.safe_load(
        (PROJECT / "docker-compose.yml").read_text()
    )["services"]
    return found


def test_a_site_has_its_five_parts_each_with_a_health_check() -> None:
    found = services()
    assert {"web", "worker", "scheduler", "database", "redis"} <= found.keys()
    dockerfile = (PROJECT / "Dockerfile").read_text()
    assert re.search(r"^HEALTHCHECK", dockerfile, re.MULTILINE), "the web server's own"
    for name in ("worker", "scheduler", "database", "redis"):
        assert "test" in found[name]["healthcheck"], name  # type: ignore[operator]


@pytest.mark.parametrize("secret", SECRETS)
def test_no_secret_has_a_default(secret: str) -> None:
    text = (PROJECT / "docker-compose.yml").read_text()
    used = re.findall(rf"\$\{{{secret}([^}}]*)\}}", text)
    assert used
    assert all(re.match(r":\?Set \w+ to .+\.", rest) for rest in used)
    assert not re.search(rf"^(?:ENV|ARG).*{secret}", (PROJECT / "Dockerfile").read_text(), re.M)


def test_the_image_runs_as_nobody_in_particular() -> None:
    last_stage = (PROJECT / "Dockerfile").read_text().rpartition("\nFROM ")[2]
    assert re.findall(r"^USER (\S+)", last_stage, re.MULTILINE) == ["frogs"]
