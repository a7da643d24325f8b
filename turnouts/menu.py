"""The way around: each app adds its entries, each person sees those of their roles."""

from dataclasses import dataclass

from django.http import HttpRequest
from django.urls import reverse

from turnouts.access import Action, may, roles_of
from turnouts.analysis.terms import Role
from turnouts.models import Person


@dataclass(frozen=True)
class Entry:
    """A place in the menu; smaller ``order`` stands further left.

    ``home_of`` is the role whose day begins here; ``also`` a second page that is reached from the
    first and is marked in the menu by the same entry.
    """

    words: str
    url_name: str
    action: Action
    order: int
    home_of: Role | None = None
    also: str = ""


_entries: list[Entry] = []


def add(entry: Entry) -> None:
    """Called once for each entry, from the app's ``ready``."""
    if entry not in _entries:
        _entries.append(entry)
        _entries.sort(key=lambda e: e.order)


_own: list[tuple[str, str]] = []


def add_own(words: str, url_name: str) -> None:
    """A page that everybody has of their own, reached from their settings; from ``ready``."""
    if (words, url_name) not in _own:
        _own.append((words, url_name))


def first_page(person: Person) -> str:
    """Where this person's day begins: the page of their role, or the first they may open."""
    roles = roles_of(person)
    entries = [entry for entry in _entries if may(person, entry.action)]
    home = next((entry for entry in entries if entry.home_of in roles), None)
    chosen = home or next(iter(entries), None)
    return reverse(chosen.url_name) if chosen else reverse("own-settings")


def menu(request: HttpRequest) -> dict[str, list[dict[str, object]]]:
    """Template context: the entries this person may open, and the pages of their own."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated:
        return {"menu": []}
    seen = [e for e in _entries if may(user, e.action)]
    own: list[dict[str, object]] = [{"words": w, "href": reverse(name)} for w, name in _own]
    return {"menu": [_shown(entry, request.path) for entry in seen], "own_pages": own}


def _shown(entry: Entry, path: str) -> dict[str, object]:
    pages = tuple(reverse(name) for name in (entry.url_name, entry.also) if name)
    return {"words": entry.words, "href": pages[0], "here": path.startswith(pages)}
