"""A person at a screen, who looks closely at every page: nothing in the console, no barrier, nothing that
sticks out sideways.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

PASSWORD = "seven quiet lanterns"  # noqa: S105  (it opens nothing but the tests' own kitchens)

# Everything that the accessibility guidelines WCAG 2.2 ask at levels A and AA, as far as a program can tell. In dark
# colours nothing but the colours differs.
_GUIDELINES = {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
_COLOURS = {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}
_SCHEMES: tuple[tuple[Literal["dark", "light"], object], ...] = (("dark", _COLOURS), ("light", _GUIDELINES))
_seen_signed_out: set[int] = set()
"""On how wide a screen the page that asks who one is was looked at; it is the same in every journey."""
_MOST_TABS = 150
_NAME_OF_FOCUS = """() => {
  const it = document.activeElement;
  const named = it.labels && it.labels.length ? it.labels[0] : it;
  return it.ariaLabel || named.textContent.trim();
}"""
_TALL = {390: 844, 1280: 900}


def picture_folder() -> Path:
    """Where pictures of the pages are put, to be looked at."""
    folder = Path(os.environ.get("KITCHEN_TEST_SCREENSHOTS", ".build/screenshots"))
    folder.mkdir(parents=True, exist_ok=True)
    return folder


class Visitor:
    """A browser window of one's own, ``width`` CSS pixels wide, with nobody signed in.

    It keeps still, so that no colour is measured while it changes.
    """

    def __init__(self, browser: Browser, address: str, *, width: int) -> None:
        self._context = browser.new_context(
            base_url=address, viewport={"width": width, "height": _TALL[width]}, reduced_motion="reduce"
        )
        self._width = width
        self.complaints: list[str] = []
        self.page: Page = self._context.new_page()
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def close(self) -> None:
        """Close the window; what was signed in is forgotten."""
        self._context.close()

    def sign_in(self, email: str) -> None:
        """Sign in; the first to do so on a screen of this width looks at the page that asks for it."""
        self.page.goto("/")
        if self._width not in _seen_signed_out:
            self.look("sign-in")
            _seen_signed_out.add(self._width)
        self.page.get_by_label("E-mail address").fill(email)
        self.page.get_by_label("Password").fill(PASSWORD)
        self.press("Sign in")

    def press(self, name: str) -> None:
        """Press the one button of this name."""
        self.page.get_by_role("button", name=name, exact=True).click()

    def tab_to(self, name: str) -> None:
        """Press Tab until what has this name has the focus: its label, or what it says itself."""
        for _ in range(_MOST_TABS):
            self.page.keyboard.press("Tab")
            if self.page.evaluate(_NAME_OF_FOCUS) == name:
                return
        pytest.fail(f"“{name}” cannot be reached with Tab")

    def press_by_keyboard(self, name: str) -> None:
        """Reach a button or a link with Tab and press Enter."""
        self.tab_to(name)
        self.page.keyboard.press("Enter")

    def type_into(self, name: str, keys: str) -> None:
        """Reach a field with Tab and type."""
        self.tab_to(name)
        self.page.keyboard.type(keys)

    def look(self, name: str) -> None:
        """Check the page as it stands, in light and in dark colours, and keep a picture."""
        for scheme, rules in _SCHEMES:
            self.page.emulate_media(color_scheme=scheme)
            found = Axe().run(self.page, options={"resultTypes": ["violations"], "runOnly": rules})
            assert found.violations_count == 0, f"{name}, {scheme}: {found.generate_report()}"
        self.page.screenshot(path=picture_folder() / f"{name}-{self._width}.png", full_page=True)
        wide = self.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= self._width, f"{name} is {wide} pixels wide on a screen of {self._width}"
        assert self.complaints == [], f"{name}: {self.complaints}"
