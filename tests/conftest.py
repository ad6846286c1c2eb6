"""What tests of every kind may ask for. The scheduler's tests need none of it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from hypothesis import settings as hypothesis_settings
from playwright.sync_api import Browser, sync_playwright

QUIET_CHROMIUM = (
    "--no-sandbox",  # The tests may run as root, for whom Chromium's sandbox does not start.
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-gpu",
    "--disable-quic",
    "--disable-sync",
    "--no-first-run",
)


# On a busy machine any example may take long; no test asks how long.
hypothesis_settings.register_profile("patient", deadline=None)
hypothesis_settings.load_profile("patient")


def named_or_skip(variable: str, otherwise: str | None, what: str) -> str:
    """The value that deploy/test sets, or what was found by hand; without either the test is skipped and says
    why.
    """
    value = os.environ.get(variable) or otherwise
    if not value:
        pytest.skip(f"{what} was not found; deploy/test sets it up, or name it in {variable}")
    return value


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Skip what is about the other database; deploy/test runs both and leaves nothing out."""
    other = "sqlite" if str(settings.DATABASES["default"]["ENGINE"]).endswith(".postgresql") else "postgres"
    skipped = pytest.mark.skip(reason=f"needs the {other} leg of deploy/test")
    for item in items:
        if item.get_closest_marker(other) is not None:
            item.add_marker(skipped)


@pytest.fixture(scope="session")
def chromium() -> str:
    """Where Chromium is."""
    return named_or_skip("KITCHEN_TEST_CHROMIUM", shutil.which("chromium"), "Chromium")


@pytest.fixture(scope="session")
def browser(chromium: str) -> Iterator[Browser]:
    """A headless Chromium, one for all tests. Each test opens a context of its own."""
    # The driver runs an event loop in this thread, in which Django would refuse to touch the database.
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=chromium, args=list(QUIET_CHROMIUM))
        yield opened
        opened.close()
    if before is None:
        del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture(scope="session")
def systemd_analyze() -> str:
    """Where the program is that finds faults with units."""
    return named_or_skip("KITCHEN_TEST_SYSTEMD", shutil.which("systemd-analyze"), "systemd-analyze")


@pytest.fixture(scope="session")
def redis_url() -> str:
    """The address of a Redis server whose data nobody needs."""
    return named_or_skip("KITCHEN_TEST_REDIS", None, "A Redis server")


@pytest.fixture(scope="session")
def node_modules() -> Path:
    """The folder with ``ical.js``, for Node's ``NODE_PATH``."""
    beside = Path(__file__).resolve().parent.parent / ".build" / "node_modules"
    found = str(beside) if (beside / "ical.js").is_dir() else None
    return Path(named_or_skip("KITCHEN_TEST_NODE_MODULES", found, "ical.js"))
