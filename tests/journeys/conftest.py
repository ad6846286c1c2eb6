"""Windows for the journeys."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, expect
from pytest_django.live_server_helper import LiveServer

from tests.factories.quick_plans import quick_plans
from tests.journeys.visitor import Visitor
from tests.journeys.ways import Way

# What is waited for comes in a moment, or not at all: no journey asks how long a busy machine takes, and a run sheet
# that looked just before a change looks again by itself.
PATIENCE_MS = 60_000


@pytest.fixture(scope="module", autouse=True)
def _patient() -> None:
    expect.set_options(timeout=PATIENCE_MS)


# By module, since a worker goes on with tests of the scheduler, which keep the full effort.
@pytest.fixture(scope="module", autouse=True)
def _quick_plans() -> Iterator[None]:
    with quick_plans():
        yield


@pytest.fixture
def visit(browser: Browser, live_server: LiveServer) -> Iterator[Callable[[int | Way], Visitor]]:
    """Opens a window of the given width, or for the given way of walking."""
    opened: list[Visitor] = []

    def open_window(way: int | Way) -> Visitor:
        opened.append(Visitor(browser, live_server.url, way=Way(width=way) if isinstance(way, int) else way))
        return opened[-1]

    yield open_window
    for visitor in opened:
        visitor.close()
