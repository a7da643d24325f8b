"""Proposals as JSON: what all that one engineer proposes and another answers has in common."""

from typing import Any

from rest_framework import serializers

from turnouts.api.serializers import named_by

ANSWER_FIELDS = (
    "reason",
    "proposed_by",
    "proposed_at",
    "state",
    "answered_by",
    "answered_at",
    "answer_note",
)
"""What every proposal shows of itself and of its answer."""


class AnsweredSerializer(serializers.ModelSerializer[Any]):
    """Who proposed and who answered, by user name."""

    proposed_by = named_by("username")
    answered_by = named_by("username")
