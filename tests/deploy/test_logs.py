"""Secrets that stand in addresses do not reach the log."""

from __future__ import annotations

import logging
import logging.config
from copy import deepcopy
from io import StringIO

import pytest
import structlog

from kitchen.configuration.logs import logging_settings, redact_addresses

TOKEN = "kqJ5cJcYw9u0V0a5Qw2n8Yb3rT7mX1zLq4sD6fG8hJk"  # noqa: S105  (a secret's looks)
SIGNED = "WyJzZWFsIiw0Ml0:1v2fGh:Zk9xQm5rT3pSYlVhWmNYdkJuTWFzRGZHaEprTA"
ROW = "0f8fad5b-d9cb-469f-a165-70867728950e"


@pytest.mark.parametrize(
    ("address", "logged"),
    [
        (f"/calendars/{TOKEN}/loads.ics", "/calendars/[secret]/loads.ics"),
        (f"/calendars/{TOKEN}", "/calendars/[secret]"),
        (f"Not Found: /seals/{SIGNED}/?day=1", "Not Found: /seals/[secret]/?day=1"),
        (f'"GET /seals/{SIGNED} HTTP/1.1"', '"GET /seals/[secret] HTTP/1.1"'),
        (f"/loads/{ROW}/", f"/loads/{ROW}/"),
        (f"/loads/{ROW}", f"/loads/{ROW}"),
        ("/static/admin/css/base.96c479cedf7a.css", "/static/admin/css/base.96c479cedf7a.css"),
    ],
)
def test_a_long_segment_is_a_secret_and_a_row_is_none(address: str, logged: str) -> None:
    assert redact_addresses(None, "info", {"event": address, "path": address, "count": 3}) == {
        "event": logged,
        "path": logged,
        "count": 3,
    }


@pytest.fixture(params=[True, False], ids=["json", "text"])
def lines(request: pytest.FixtureRequest) -> tuple[logging.Logger, StringIO]:
    """A logger of somebody else's, and what is written of it."""
    chosen = deepcopy(logging_settings(as_json=request.param))
    formatters = logging.config.DictConfigurator({**chosen, "handlers": {}, "root": {}, "loggers": {}})
    stream = StringIO()
    handler = logging.StreamHandler(stream)
    formatters.configure()
    handler.setFormatter(formatters.config["formatters"]["lines"])
    logger = logging.Logger("django.request")
    logger.addHandler(handler)
    return logger, stream


def test_what_others_log_is_redacted_too(lines: tuple[logging.Logger, StringIO]) -> None:
    logger, stream = lines
    logger.warning("Not Found: %s", f"/calendars/{TOKEN}/loads.ics")
    assert TOKEN not in stream.getvalue()
    assert "/calendars/[secret]/loads.ics" in stream.getvalue()


def test_a_trace_tells_where_and_nothing_of_what_was_in_hand(lines: tuple[logging.Logger, StringIO]) -> None:
    logger, stream = lines
    password = "known to " + "nobody else"
    try:
        raise ValueError(f"No such page: /calendars/{TOKEN}/loads.ics")
    except ValueError:
        logger.exception("Internal Server Error")
    assert "test_a_trace_tells" in stream.getvalue()
    assert "/calendars/[secret]/loads.ics" in stream.getvalue()
    assert TOKEN not in stream.getvalue()
    assert password not in stream.getvalue()


def test_the_program_s_own_events_take_the_same_way(caplog: pytest.LogCaptureFixture) -> None:
    structlog.get_logger("kitchen.tests").warning("feed refused", path=f"/calendars/{TOKEN}/loads.ics")
    (record,) = caplog.records
    assert record.levelname == "WARNING"
    assert TOKEN not in str(record.msg)
