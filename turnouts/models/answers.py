"""Answers the API gave, so that a request sent twice is answered twice and done once."""

from django.conf import settings
from django.db import models


class KeptAnswer(models.Model):
    """The answer to one request that carried an idempotency key.

    ``asked`` is a digest of the request: the same key for another request is refused.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    key = models.CharField(max_length=80)
    asked = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(default=0)
    body = models.JSONField(default=dict)
    answered_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "key"], name="one_answer_a_key_a_person")
        ]

    def __str__(self) -> str:
        return f"{self.key} of {self.person}"
