"""Django choices made from the trade's words, so that a word is spelled in one place."""

from django.db import models

from turnouts.analysis.terms import Term


def choices(terms: type[Term]) -> list[tuple[str, str]]:
    """Pairs of stored value and label, in the order of the words."""
    return [(term.value, term.label) for term in terms]


def only(field: str, terms: type[Term], name: str) -> models.CheckConstraint:
    """A database check that ``field`` holds one of the words (blank where the word is unknown)."""
    return models.CheckConstraint(
        condition=models.Q(**{f"{field}__in": ["", *[term.value for term in terms]]}), name=name
    )
