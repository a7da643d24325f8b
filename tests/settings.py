"""What pytest loads: the site's settings on servers of this run's own."""

import os

from config.environment import next_redis_database
from config.local.servers import provide
from tests.migrated import pattern

# The controller of a parallel run provides; its workers inherit what it set.
if "PYTEST_XDIST_WORKER" not in os.environ:
    if "DATABASE_URL" not in os.environ:
        os.environ["TEST_DATABASE_TEMPLATE"] = "frogs"
    provide("test", None if "DATABASE_URL" in os.environ else pattern())
    # Past the demo's databases, should both have been given one Redis server.
    os.environ["REDIS_URL"] = next_redis_database(os.environ["REDIS_URL"], 8)
    os.environ.pop("REDIS_CACHE_URL", None)
else:
    _worker = int(os.environ["PYTEST_XDIST_WORKER"].removeprefix("gw"))
    os.environ["REDIS_URL"] = next_redis_database(os.environ["REDIS_URL"], 2 * (_worker + 1))

# Playwright's synchronous calls run inside an event loop, where Django refuses its database.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

from config.settings import *  # noqa: F403
from config.settings import DATABASES

# With a server of our own each test database is a copy of its migrated one.
DATABASES["default"]["TEST"] = {"TEMPLATE": os.environ.get("TEST_DATABASE_TEMPLATE")}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]  # quick, for tests only
