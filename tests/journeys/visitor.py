"""A person at a screen, with a mouse or a keyboard alone, who looks closely at every page: nothing in the console, no
barrier, nothing that sticks out sideways or is too small for a finger.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page
from playwright.sync_api import Error as BrowserError

from tests.journeys.closely import LISTEN, barriers, misfits, unfolded
from tests.journeys.ways import Way

PASSWORD = "seven quiet lanterns"  # noqa: S105  (it opens nothing but the tests' own kitchens)

_seen_signed_out: set[Way] = set()
"""In which ways the page that asks who one is was looked at; it is the same in every journey."""
_MOST_TABS = 250
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
    """A browser window of one's own, in which nobody is signed in.

    It keeps still, so that no colour is measured while it changes.
    """

    def __init__(self, browser: Browser, address: str, *, way: Way) -> None:
        self._context = browser.new_context(
            base_url=address,
            viewport={"width": way.width, "height": _TALL[way.width]},
            reduced_motion="reduce",
            java_script_enabled=way.scripts,
        )
        self._way = way
        self.presses = 0
        """How often something was pressed since somebody last set it to 0."""
        self.complaints: list[str] = []
        self._context.add_init_script(LISTEN)
        self.page: Page = self._context.new_page()
        self.page.on("console", lambda message: self._hear(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _hear(self, words: str) -> None:
        # The browser itself notes each request that it did not send because a test has taken the line away.
        if "ERR_INTERNET_DISCONNECTED" not in words:
            self.complaints.append(words)

    def close(self) -> None:
        """Close the window; what was signed in is forgotten."""
        self._context.close()

    def sign_in(self, email: str) -> None:
        """Sign in; the first to do so in this way looks at the page that asks for it."""
        self.page.goto("/")
        if self._way not in _seen_signed_out:
            self.look("sign-in")
            _seen_signed_out.add(self._way)
        self.type("E-mail address", email)
        self.type("Password", PASSWORD)
        self.press("Sign in")
        self.page.get_by_role("button", name="Sign out").wait_for()

    def press(self, name: str) -> None:
        """Press the one button of this name, once it takes a press."""
        self.touch(self.page.get_by_role("button", name=name, exact=True))

    def follow(self, name: str) -> None:
        """Follow the one link of this name."""
        self.touch(self.page.get_by_role("link", name=name, exact=True))

    def touch(self, one: Locator) -> None:
        """Press a button, a link or what unfolds: click it, or reach it with Tab and press Space or Enter."""
        self.presses += 1
        if not self._way.by_keyboard:
            one.click()
            return
        self.reach(one)
        self.page.keyboard.press(
            "Space" if one.evaluate("it => it.matches('button, summary, [type=checkbox]')") else "Enter"
        )

    def type(self, label: str, text: str) -> None:
        """Write into the one field with this label, instead of what stands there.

        By keyboard a date is written as its digits, month first, as the browser's own field asks for it.
        """
        field = self.page.get_by_label(label, exact=True)
        if not self._way.by_keyboard:
            field.fill(text)
            return
        self.reach(field)
        if field.get_attribute("type") == "date":
            year, month, day = text.split("-")
            self.page.keyboard.type(f"{month}{day}{year}")
        else:
            self.page.keyboard.press("ControlOrMeta+a")
            self.page.keyboard.type(text)
        assert field.input_value() == text

    def choose(self, label: str, option: str) -> None:
        """Choose what is called so in the one list with this label."""
        field = self.page.get_by_label(label, exact=True)
        if not self._way.by_keyboard:
            field.select_option(label=option)
            return
        self.reach(field)
        self.page.keyboard.type(option)
        assert field.locator("option:checked").inner_text().strip() == option

    def reach(self, one: Locator) -> None:
        """Press Tab until this has the focus."""
        one.wait_for()
        one.element_handle().wait_for_element_state("enabled")
        for _ in range(_MOST_TABS):
            if one.evaluate("it => it === document.activeElement"):
                return
            self.page.keyboard.press("Tab")
        pytest.fail(f"{one} cannot be reached with Tab")

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
        """Check the page as it stands and with everything unfolded, and keep a picture.

        A page without scripts is the same page, so what only a script can look for is left to the others.
        """
        width = self._way.width
        self.page.wait_for_load_state()
        # Without scripts the browser is not back at its size when the picture of a long page is taken.
        whole = self._way.scripts
        self._take_picture(picture_folder() / f"{name}-{self._way}.png", whole=whole)
        if self._way.scripts:
            with unfolded(self.page):
                found = [*barriers(self.page), *misfits(self.page, width)]
            assert not found, f"{name}: {found}"
        assert self.complaints == [], f"{name}: {self.complaints}"

    def _take_picture(self, path: Path, *, whole: bool) -> None:
        """On a busy machine Chromium at times cannot; the page is the same a moment later."""
        for left in (2, 1, 0):
            try:
                self.page.screenshot(path=path, full_page=whole)
            except BrowserError as error:
                if not left or "Unable to capture screenshot" not in str(error):
                    raise
                self.page.wait_for_timeout(500)
            else:
                return
