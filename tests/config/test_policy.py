"""What a page may load, send and show is held to this site alone."""

import re
from pathlib import Path

import pytest
from django.test import Client
from pytest_django import Settings

from config.local.places import PROJECT

APPS = ("config", "turnouts", "repairs", "planning")
TEMPLATES = [
    file
    for app in APPS
    for file in (PROJECT / app).rglob("*.html")
    if "templates" in file.relative_to(PROJECT).parts
]
TEMPLATE_TAG = re.compile(r"\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}", re.DOTALL)
INLINE = re.compile(
    r"""<script(?![^>]*\bsrc=)[^>]*>  # a script in the page
      | <style\b                      # a style sheet in the page
      | \sstyle\s*=                   # a style on an element
      | \son[a-z]+\s*=                # a handler on an element
      | \bhx-on\b                     # htmx's handlers, which need eval
      | (?:src|href)\s*=\s*["']?(?:https?:)?//  # something from elsewhere
    """,
    re.VERBOSE | re.IGNORECASE,
)


@pytest.mark.django_db
def test_every_page_may_load_from_this_site_only(client: Client) -> None:
    header = client.get("/login/")["Content-Security-Policy"]
    directives = dict(part.strip().split(" ", 1) for part in header.split(";"))
    assert directives["default-src"] == directives["script-src"] == "'self'"
    assert directives["style-src"] == directives["img-src"] == directives["form-action"] == "'self'"
    assert directives["object-src"] == directives["frame-ancestors"] == "'none'"
    assert "unsafe" not in header


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda file: str(file.relative_to(PROJECT)))
def test_a_template_has_nothing_the_policy_would_block(template: Path) -> None:
    shown = TEMPLATE_TAG.sub("", template.read_text())
    assert [match.group(0).strip() for match in INLINE.finditer(shown)] == []


@pytest.mark.parametrize("bad", ['<p style="a">', "<script>", '<a onclick="b()">', "<style>"])
def test_the_search_for_blocked_things_finds_them(bad: str) -> None:
    assert INLINE.search(bad)


@pytest.mark.django_db
def test_a_request_over_the_limit_is_refused_with_a_sentence(
    client: Client, settings: Settings
) -> None:
    settings.UPLOAD_MAX_BYTES = 1000
    answer = client.post("/login/", {"username": "a" * 2000})
    assert answer.status_code == 413
    assert "at most 1,000 can be taken" in answer.content.decode()
    assert client.post("/login/", {"username": "a" * 100}).status_code == 200


@pytest.mark.django_db
def test_the_sixth_try_at_a_password_is_refused_even_when_it_is_right(client: Client) -> None:
    from turnouts.models import Person

    Person.objects.create_user("welder", password="the right one")
    wrong = {"username": "welder", "password": "a wrong one"}
    tries = [client.post("/login/", wrong).status_code for _ in range(5)]
    assert tries == [200, 200, 200, 200, 429]
    right = client.post("/login/", wrong | {"password": "the right one"})
    assert right.status_code == 429
    assert "_auth_user_id" not in client.session


@pytest.mark.django_db
def test_the_api_and_its_description_are_for_people_who_logged_in(client: Client) -> None:
    assert client.get("/api/schema/").status_code == 403
    assert client.get("/api/docs/")["Location"] == "/login/?next=/api/docs/"
