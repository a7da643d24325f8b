"""A chain of SHA-256 over entries, so that a change to any of them, or a missing one, shows."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Link:
    """One entry of a chain as it is kept: what it says, and the digests beside it."""

    name: str
    says: Mapping[str, Any]
    previous: str
    sha256: str


def digest_of(says: Mapping[str, Any], previous: str) -> str:
    """The digest of an entry that follows the one with digest ``previous`` (empty: the first)."""
    written = json.dumps(says, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(f"{previous}\n{written}".encode()).hexdigest()


def first_break(links: Iterable[Link]) -> str:
    """A sentence naming the first entry that does not fit, or the empty one where all do."""
    before = ""
    for link in links:
        if link.previous != before:
            return (
                f"{link.name} does not follow the entry before it: one was taken out, put in or "
                "changed. Compare with the exports kept elsewhere."
            )
        if digest_of(link.says, link.previous) != link.sha256:
            return (
                f"{link.name} is not what was entered: its content was changed afterwards. "
                "Compare with the exports kept elsewhere."
            )
        before = link.sha256
    return ""
