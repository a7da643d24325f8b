"""What mypy's Django plugin loads: the settings, with addresses that nobody opens."""

import os

os.environ.update(
    DJANGO_ENV="test",
    SECRET_KEY="only-the-type-checker-reads-these-settings-" * 2,
    DATABASE_URL="postgres://localhost/types",
    REDIS_URL="redis://localhost/0",
    ALLOWED_HOSTS="localhost",
    MEDIA_ROOT="media",
    EMAIL_URL="consolemail://",
)

from config.settings import *  # noqa: F403
