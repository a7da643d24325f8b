"""What follows elsewhere from a signed record, done and told by the apps that know of it.

Both are added in that app's ``AppConfig.ready``; this module knows nothing of crews or stock.
"""

from collections.abc import Callable, Sequence

from repairs.models import FieldRecord, JobSheet

Follower = Callable[[FieldRecord], None]
Words = Callable[[JobSheet], Sequence[str]]

_followers: list[Follower] = []
_words: list[Words] = []


def add_follower(follower: Follower) -> None:
    """Call ``follower`` for each record as it is signed or corrected, in the same transaction."""
    if follower not in _followers:
        _followers.append(follower)


def add_words(words: Words) -> None:
    """Ask ``words`` too for sentences on what followed from a sheet's records."""
    if words not in _words:
        _words.append(words)


def follow(record: FieldRecord) -> None:
    """Tell every follower of a record that was signed just now."""
    for follower in _followers:
        follower(record)


def what_followed(sheet: JobSheet) -> list[str]:
    """Sentences on what followed from the records of a sheet; none while nothing is signed."""
    return [sentence for words in _words for sentence in words(sheet)]
