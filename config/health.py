"""Two questions a supervisor process asks: are you alive, and can you do your work?"""

import structlog
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core.cache import cache
from django.db import DatabaseError, connection
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from psycopg_pool import PoolTimeout
from redis import Redis, RedisError
from redis.backoff import NoBackoff
from redis.retry import Retry

logger = structlog.get_logger(__name__)


@login_not_required
@never_cache
def live(request: HttpRequest) -> JsonResponse:
    """This process answers; nothing else is asked, so a lost database restarts no web server."""
    return JsonResponse({"live": True})


@login_not_required
@never_cache
def ready(request: HttpRequest) -> JsonResponse:
    """200 when database, queue and cache answer, 503 naming the one that does not."""
    answers = {"database": _database(), "queue": _queue(), "cache": _cache()}
    return JsonResponse(answers, status=200 if all(answers.values()) else 503)


def _database() -> bool:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            return bool(cursor.fetchone() == (1,))
    except (DatabaseError, PoolTimeout):
        logger.exception("the database does not answer")
        return False


def _queue() -> bool:
    once = Retry(NoBackoff(), 0)
    client = Redis.from_url(settings.REDIS_URL, retry=once, socket_timeout=2)
    try:
        return bool(client.ping())
    except RedisError:
        logger.exception("the queue's Redis does not answer")
        return False
    finally:
        client.close()


def _cache() -> bool:
    try:
        cache.set("health", 1, timeout=5)
        return bool(cache.get("health") == 1)
    except RedisError:
        logger.exception("the cache's Redis does not answer")
        return False
