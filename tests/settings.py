"""What pytest loads: the site's settings on servers of this run's own."""

import os

from config.environment import next_redis_database
from config.local.servers import provide

# The controller of a parallel run provides; its workers inherit what it set.
if "PYTEST_XDIST_WORKER" not in os.environ:
    provide("test")
    # Past the demo's databases, should both have been given one Redis server.
    os.environ["REDIS_URL"] = next_redis_database(os.environ["REDIS_URL"], 8)
    os.environ.pop("REDIS_CACHE_URL", None)
else:
    _worker = int(os.environ["PYTEST_XDIST_WORKER"].removeprefix("gw"))
    os.environ["REDIS_URL"] = next_redis_database(os.environ["REDIS_URL"], 2 * (_worker + 1))

# Playwright's synchronous calls run inside an event loop, where Django refuses its database.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

from config.settings import *  # noqa: F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # quick, for tests only
