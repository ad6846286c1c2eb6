"""A token is made, copied and ended, in a window."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from tests.factories.sites import make_site
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import Way

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_token_is_made_and_ended(visit: Callable[[int | Way], Visitor]) -> None:
    site = make_site()
    site.member.set_password(PASSWORD)
    site.member.save()
    visitor = visit(390)
    visitor.sign_in(site.member.email)
    page = visitor.page
    page.get_by_role("link", name="Tokens for devices and programs").click()
    visitor.look("tokens")
    page.get_by_label("Name of the device or program").fill("Tablet at the canners")
    page.get_by_label("Press steps of the run sheet").check()
    visitor.press("Make it")
    visitor.look("token-made")
    expect(page.get_by_label("Tablet at the canners")).to_have_value(re.compile("kitchen_.{40,}"))
    page.get_by_role("link", name="Done").click()
    visitor.look("tokens-listed")
    visitor.press("End it")
    expect(page.get_by_text("Tablet at the canners")).to_have_count(0)
    assert visitor.complaints == []
