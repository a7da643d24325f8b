"""Settings, addresses, queue and start-up of the site."""

from config.celery import app as celery_app  # a task queued from a page must find its queue

__all__ = ["celery_app"]
