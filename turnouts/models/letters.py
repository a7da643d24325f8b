"""An e-mail that waits to be sent: what it says, and how its sending went."""

from django.db import models


class Letter(models.Model):
    """Written with what it tells of, sent by the queue. Who it goes to is a field ``person``."""

    subject = models.CharField(max_length=200)
    text = models.TextField()
    sent_at = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    fault = models.CharField(max_length=300, blank=True)

    class Meta:
        abstract = True
