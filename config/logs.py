"""Logs as one JSON object a line, for the requests, the tasks and every library alike."""

import re
from typing import Any

import structlog

_CALENDAR_KEY = re.compile(r"(?<=/calendars/)[^/\s]+(?=\.ics)")


def without_keys(logger: Any, method: str, event: dict[str, Any]) -> dict[str, Any]:
    """The event without the secret part of a crew calendar's address: whoever reads it may read
    the calendar, and a log is read by many."""
    request = event.get("request")
    if isinstance(request, str):
        event["request"] = _CALENDAR_KEY.sub("(key)", request)
    return event


_SHARED: list[Any] = [
    structlog.contextvars.merge_contextvars,
    without_keys,
    structlog.stdlib.add_logger_name,
    structlog.stdlib.add_log_level,
    structlog.stdlib.PositionalArgumentsFormatter(),
    structlog.processors.TimeStamper(fmt="iso", utc=True),
    structlog.processors.StackInfoRenderer(),
    structlog.processors.UnicodeDecoder(),
]


def configure_structlog() -> None:
    """Hand structlog's events to the standard library, which renders them."""
    structlog.configure(
        processors=[
            structlog.stdlib.filter_by_level,
            *_SHARED,
            structlog.stdlib.ProcessorFormatter.wrap_for_formatter,
        ],
        logger_factory=structlog.stdlib.LoggerFactory(),
        cache_logger_on_first_use=True,
    )


def logging_config(level: str, style: str) -> dict[str, Any]:
    """Django's LOGGING: `style` is json for machines or console for people."""
    renderers: dict[str, list[Any]] = {
        "json": [structlog.processors.format_exc_info, structlog.processors.JSONRenderer()],
        "console": [structlog.dev.ConsoleRenderer(colors=False)],
    }
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "line": {
                "()": structlog.stdlib.ProcessorFormatter,
                "foreign_pre_chain": _SHARED,
                "processors": [
                    structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                    *renderers[style],
                ],
            }
        },
        "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
        "root": {"handlers": ["stderr"], "level": level},
        # The request log names the address and outcome of every request already.
        "loggers": {"django.request": {"level": "ERROR"}, "axes": {"level": "WARNING"}},
    }
