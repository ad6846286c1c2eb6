"""Every page of the demo that links lead to, and what its forms answer when nothing is filled in, looked at closely.

A run of the tests looks at one page of each kind, as a lead who reads Spanish on a narrow screen; with
``KITCHEN_TEST_ALL_JOURNEYS=1`` at two of each kind, in every role and language, on a narrow screen and a wide one, and
presses every button once with all fields empty.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import pytest
from django.urls import Resolver404, resolve
from django.utils import timezone
from playwright.sync_api import Browser, Download, ElementHandle, Page, Response
from playwright.sync_api import Error as BrowserError
from pytest_django.live_server_helper import LiveServer

from kitchen.demo.actions import load_demo, plan_demo
from kitchen.members.models import Role, User
from tests.journeys.closely import MOST_BYTES, barriers, misfits, unfolded
from tests.journeys.visitor import Visitor
from tests.journeys.ways import ALL, NARROW, WIDE, Way

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

ROLES = Role.values if ALL else [Role.LEAD.value]
LANGUAGES = ("en", "es") if ALL else ("es",)
WIDTHS = (NARROW, WIDE) if ALL else (NARROW,)
MOST_OF_A_KIND = 2 if ALL else 1
# Everybody who may have a shift is named at every shift of the day.
_LONG = "/rota/again/"
# What the browser would like passwords to have beside them; a page for one person needs no name.
_ADVICE = "Password forms should have"
_LEAVING = "/leave/"
# The administration is Django's own; a file is no page.
_NO_PAGE = ("admin", "api", "kitchens/offline.js")
_HREFS = "all => all.map((one) => one.getAttribute('href').split('#')[0])"
# A form that many buttons share says nothing itself: each of its buttons says where it goes.
_BUTTON = "[...one.elements].find((it) => it.type === 'submit')"
_FORMS = f"""() => [...document.querySelectorAll("main form[method=post]")].map((one) => {_BUTTON}).filter(Boolean)
  .map((it) => it.getAttribute("formaction") ?? it.form.getAttribute("action") ?? "")"""
_FORM = f"""(action) => [...document.querySelectorAll("main form[method=post]")].map((one) => {_BUTTON}).filter(Boolean)
  .find((it) => (it.getAttribute("formaction") ?? it.form.getAttribute("action") ?? "") === action)?.form"""
_EMPTY = """(form) => {
  form.noValidate = true;
  for (const it of form.elements) {
    if (it.matches("input:not([type=hidden], [type=checkbox], [type=radio], [type=submit]), textarea")) it.value = "";
    if (it.matches("select")) it.selectedIndex = 0;
  }
}"""


# By its first button.
_PRESS = f"(one) => one.requestSubmit({_BUTTON})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A form on a page, by the address that it is sent to."""

    page: str
    action: str


class Walker:
    """Follows links and presses buttons, and notes whatever it finds wrong."""

    def __init__(self, visitor: Visitor, width: int) -> None:
        self.page: Page = visitor.page
        self.found: list[str] = []
        self.read: set[str] = set()
        self.forms: dict[str, Form] = {}
        self._width = width
        self._complaints = visitor.complaints

    def walk(self) -> None:
        """Read every page that links lead to."""
        waiting, kinds = ["/", "/about-me/"], dict[str, int]()
        self.read.clear()
        while waiting:
            address = waiting.pop(0)
            kind = kind_of(address)
            if address in self.read or kind is None or kinds.get(kind, 0) >= MOST_OF_A_KIND:
                continue
            answer = self._go(address)
            if answer is None or not answer.headers.get("content-type", "").startswith("text/html"):
                continue
            self.read.add(address)
            kinds[kind] = kinds.get(kind, 0) + 1
            if len(answer.body()) > MOST_BYTES and _LONG not in address:
                self.found.append(f"{address}: {len(answer.body())} bytes")
            self.look(address)
            for action in self.page.evaluate(_FORMS):
                to = kind_of(action or address)
                if to is not None:
                    self.forms.setdefault(to, Form(page=address, action=action))
            waiting += self.page.eval_on_selector_all("a[href]", _HREFS)

    def press(self, *, leaving: bool) -> None:
        """Send each form once with nothing filled in, those that have somebody leave or all others; whatever answers is
        a page too.
        """
        for kind, form in self.forms.items():
            if kind.endswith(_LEAVING) != leaving:
                continue
            self._go(form.page)
            found = self.page.evaluate_handle(_FORM, form.action).as_element()
            if found is None:
                # An earlier press has settled it, and its page may be gone with it.
                self._complaints[:] = [one for one in self._complaints if "404" not in one]
                continue
            found.evaluate(_EMPTY)
            if not self._submit(found):
                continue
            # The browser notes that a refusal is one.
            self._complaints[:] = [one for one in self._complaints if "422" not in one]
            self.look(f"{kind}, sent empty")

    def look(self, name: str) -> None:
        """Note barriers, what does not fit, and complaints of the page as it stands."""
        with unfolded(self.page):
            wrong = [*barriers(self.page), *misfits(self.page, self._width)]
        wrong += [one for one in self._complaints if _ADVICE not in one]
        self._complaints.clear()
        self.found += [f"{name}: {one}" for one in wrong]

    def _submit(self, form: ElementHandle) -> bool:
        """Send a form; False when a file answers, which is no page."""
        files: list[Download] = []

        def note(file: Download) -> None:
            files.append(file)

        self.page.on("download", note)
        try:
            with self.page.expect_navigation():
                form.evaluate(_PRESS)
        except BrowserError as error:
            if "ERR_ABORTED" not in str(error):
                raise
            if not files:
                self.page.wait_for_event("download")
            return False
        finally:
            self.page.remove_listener("download", note)
        return True

    def _go(self, address: str) -> Response | None:
        try:
            return self.page.goto(address)
        except BrowserError as error:
            if "Download is starting" not in str(error):
                raise
            return None


def kind_of(address: str) -> str | None:
    """The pattern of an address of the kitchen's own pages; None for any other."""
    if not address.startswith("/"):
        return None
    try:
        kind = resolve(address.partition("?")[0]).route
    except Resolver404:
        return None
    return None if kind.startswith(_NO_PAGE) else kind


@pytest.fixture(params=WIDTHS)
def walkers(
    request: pytest.FixtureRequest, browser: Browser, live_server: LiveServer
) -> Iterator[list[Walker]]:
    """Somebody of each role, signed in at the demo on a screen of some width."""
    demo = load_demo(now=timezone.now())
    plan_demo(kitchen=demo.kitchen, today=timezone.now().date(), seconds=1)
    visitors = []
    for role in ROLES:
        membership = demo.kitchen.memberships.filter(role=role, under_16=False).select_related("user").first()
        assert membership is not None
        visitors.append(Visitor(browser, live_server.url, way=Way(width=request.param)))
        visitors[-1].page.goto("/")
        visitors[-1].type("E-mail address", membership.user.email)
        visitors[-1].type("Password", demo.password)
        visitors[-1].press("Sign in")
        visitors[-1].page.locator("nav form button").wait_for()
    yield [Walker(one, request.param) for one in visitors]
    for one in visitors:
        one.close()


def test_every_page_is_sound(walkers: list[Walker]) -> None:
    for language in LANGUAGES:
        User.objects.update(language=language, units="metric" if language == "es" else "us")
        for walker in walkers:
            walker.walk()
            assert len(walker.read) > 20
            assert walker.page.locator("html").get_attribute("lang") == language
    if ALL:
        # Whoever has left, or was taken off, sees no more of the kitchen.
        for leaving, walker in product((False, True), walkers):
            walker.press(leaving=leaving)
    found = [one for walker in walkers for one in walker.found]
    assert not found, "\n".join(found)


def test_pages_of_errors_are_sound(browser: Browser, live_server: LiveServer) -> None:
    """Nothing there, a form whose token is gone, and a sign-in that fails."""
    visitor = Visitor(browser, live_server.url, way=Way())
    walker, page = Walker(visitor, NARROW), visitor.page
    page.goto("/nothing/here/")
    visitor.complaints.clear()  # The browser notes that the page says 404, or 403.
    walker.look("404")
    page.goto("/sign-in/")
    visitor.type("E-mail address", "nobody@kitchen.example")
    visitor.type("Password", "wrong")
    visitor.press("Sign in")
    page.locator(".wrong, .note").first.wait_for()
    walker.look("sign-in refused")
    page.goto("/about-me/")
    page.evaluate("document.querySelector('[name=csrfmiddlewaretoken]').remove()")
    page.locator("main form button").first.click()
    page.get_by_role("heading", level=1).wait_for()
    visitor.complaints.clear()
    walker.look("403")
    visitor.close()
    assert not walker.found, "\n".join(walker.found)
