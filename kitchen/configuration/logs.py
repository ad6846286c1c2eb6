"""What the program writes to its log: one line an event, without the secrets that stand in addresses."""

from __future__ import annotations

import re

import structlog
from structlog.typing import EventDict, Processor, WrappedLogger

# A feed's or link's secret is a long path segment; a row's uuid is not a secret and helps to find the row.
_SECRET = re.compile(
    r"(?<=/)(?![0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}(?![A-Za-z0-9_:=-]))[A-Za-z0-9_:=-]{32,}(?=[/?.\s\"')]|$)"
)

# What the functions on the way were holding stays out of a trace: it may be a password, a message, an address.
_JSON_TRACES = structlog.processors.ExceptionRenderer(
    structlog.tracebacks.ExceptionDictTransformer(show_locals=False)
)
_CONSOLE = structlog.dev.ConsoleRenderer(colors=False, exception_formatter=structlog.dev.plain_traceback)


def redact_addresses(logger: WrappedLogger, method: str, event: EventDict) -> EventDict:
    """Put ``[secret]`` in the place of every long path segment, however deep in the event it stands."""
    return {name: _redacted(value) for name, value in event.items()}


def _redacted(value: object) -> object:
    if isinstance(value, str):
        return _SECRET.sub("[secret]", value)
    if isinstance(value, dict):
        return {name: _redacted(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_redacted(one) for one in value]
    return value


def logging_settings(*, as_json: bool) -> dict[str, object]:
    """Django's LOGGING: everything from the information level up, to the standard error stream."""
    last: Processor = structlog.processors.JSONRenderer() if as_json else _CONSOLE
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "lines": {
                "()": structlog.stdlib.ProcessorFormatter,
                "foreign_pre_chain": _first_steps(),
                "processors": [
                    structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                    _traces(as_json),
                    redact_addresses,  # Again: what was formatted since may hold an address too.
                    last,
                ],
            }
        },
        "handlers": {"lines": {"class": "logging.StreamHandler", "formatter": "lines"}},
        "root": {"handlers": ["lines"], "level": "INFO"},
        "loggers": {
            "django": {"level": "INFO", "handlers": [], "propagate": True},
            "celery.beat": {"level": "WARNING"},
            "celery.app.trace": {"level": "WARNING"},
            "celery.worker.strategy": {"level": "WARNING"},
        },
    }


def configure_logging() -> None:
    """Let the program's own events take the same way as everybody else's."""
    structlog.configure(
        processors=[*_first_steps(), structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=structlog.stdlib.BoundLogger,
        cache_logger_on_first_use=True,
    )


def _first_steps() -> list[Processor]:
    return [
        redact_addresses,
        structlog.contextvars.merge_contextvars,
        structlog.stdlib.add_log_level,
        structlog.stdlib.add_logger_name,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
    ]


def _traces(as_json: bool) -> Processor:
    return _JSON_TRACES if as_json else structlog.processors.format_exc_info
