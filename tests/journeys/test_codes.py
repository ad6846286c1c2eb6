"""Somebody signs in with a code from an e-mail, in a window, with scripts and without."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.core import mail
from django.utils import timezone
from playwright.sync_api import expect

from kitchen.entrance.sending import send_codes
from tests.factories.sites import make_site
from tests.journeys.visitor import PASSWORD, Visitor
from tests.journeys.ways import Way, every_way

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@every_way(without_scripts=True)
def test_a_code_lets_in(way: Way, visit: Callable[[int | Way], Visitor]) -> None:
    member = make_site().member
    member.set_password(PASSWORD)
    member.save()
    visitor = visit(way)
    page = visitor.page
    page.goto("/sign-in/code/")
    visitor.look("ask-for-a-code")
    page.goto("/password/")
    visitor.look("sign-in-with-a-code-too")
    visitor.type("E-mail address", member.email)
    visitor.press("Send me a code by e-mail instead")
    expect(page.get_by_role("heading", level=1)).to_have_text("Type the code")
    visitor.look("type-the-code")
    send_codes(now=timezone.now())
    code = re.search(r"^[A-Z]{4}-[A-Z]{4}$", str(mail.outbox[-1].body), re.M)
    assert code
    visitor.type("Code from the message", "bbbb bbbb")
    visitor.press("Sign in")
    expect(page.get_by_role("alert")).to_contain_text("tries left: 4")
    visitor.complaints[:] = [one for one in visitor.complaints if "422" not in one]
    visitor.look("not-the-code")
    visitor.type("Code from the message", code[0].lower())
    visitor.press("Sign in")
    expect(page.get_by_role("heading", level=1)).to_have_text("Change your password")
    assert visitor.complaints == []
