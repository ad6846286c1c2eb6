"""The content security policy as a real browser keeps it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    with browser.new_context() as context:
        yield context.new_page()


def test_the_sign_in_page_of_the_admin_keeps_to_the_policy(page: Page, live_server: LiveServer) -> None:
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(f"{live_server.url}/admin/login/")
    assert page.locator("input[name=password]").is_visible()
    assert complaints == []


def test_an_inline_script_does_not_run(page: Page, live_server: LiveServer) -> None:
    """The control to the test above: the policy is in force, and a breach would have been seen."""
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.goto(f"{live_server.url}/admin/login/")
    page.evaluate(
        """() => {
            const script = document.createElement("script");
            script.textContent = "document.title = 'it ran'";
            document.body.append(script);
        }"""
    )
    assert page.title() != "it ran"
    assert len(complaints) == 1
    assert "Content Security Policy" in complaints[0]
