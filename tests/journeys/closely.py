"""What is looked for on every page: barriers, width, weight, places to touch, and what the browser complains of."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Literal

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

MOST_BYTES = 100_000
LEAST_TOUCH = 44
"""CSS pixels, as broad fingers want them."""

# Everything that the accessibility guidelines WCAG 2.2 ask at levels A and AA, as far as a program can tell. In dark
# colours nothing but the colours differs.
_GUIDELINES = {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
_COLOURS = {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}
_SCHEMES: tuple[tuple[Literal["dark", "light"], object], ...] = (("dark", _COLOURS), ("light", _GUIDELINES))
# Links amid a sentence keep the height of its lines; a box to tick is touched on its label too.
_SMALL = """least => {
  const small = [];
  for (const it of document.querySelectorAll("a, button, input:not([type=hidden]), select, textarea, summary")) {
    if (!it.checkVisibility({ visibilityProperty: true }) || it.closest(".unseen")) continue;
    if (it.matches(".skip:not(:focus)")) continue;
    const amidWords = it.matches("a") && getComputedStyle(it).display === "inline" &&
      it.parentElement.textContent.trim() !== it.textContent.trim();
    if (amidWords) continue;
    const boxes = [it, ...(it.labels ?? [])].map((one) => one.getBoundingClientRect());
    const tall = Math.max(...boxes.map((box) => box.height)), wide = Math.max(...boxes.map((box) => box.width));
    if (tall < least - 0.5 || wide < least - 0.5) {
      const name = it.textContent.trim() || it.getAttribute("aria-label") || it.name || it.outerHTML;
      small.push(`${it.tagName.toLowerCase()} “${name.slice(0, 40)}” ${Math.round(wide)} by ${Math.round(tall)}`);
    }
  }
  return small;
}"""
_UNFOLD = "document.querySelectorAll('details:not([open])').forEach((one) => { one.open = one.dataset.looked = true; })"
_FOLD = """document.querySelectorAll('details[data-looked]').forEach((one) => {
  one.open = false;
  delete one.dataset.looked;
})"""
# The browser tells the page itself what the content security policy stopped; the listener is there before anything.
LISTEN = """document.addEventListener("securitypolicyviolation", (event) =>
  console.error(`content security policy: ${event.violatedDirective} stopped ${event.blockedURI}`));"""


def barriers(page: Page) -> Iterator[str]:
    """What axe-core finds on the page as it stands, in dark and in light colours."""
    for scheme, rules in _SCHEMES:
        page.emulate_media(color_scheme=scheme)
        found = Axe().run(page, options={"resultTypes": ["violations"], "runOnly": rules})
        if found.violations_count:
            yield f"{scheme}: {found.generate_report()}"


def misfits(page: Page, width: int) -> Iterator[str]:
    """What is wider than the screen, and what is too small to touch."""
    wide = page.evaluate("document.documentElement.scrollWidth")
    if wide > width:
        yield f"{wide} pixels wide on a screen of {width}"
    small = page.evaluate(_SMALL, LEAST_TOUCH)
    if small:
        yield f"too small to touch: {small}"


@contextmanager
def unfolded(page: Page) -> Iterator[None]:
    """Within, everything that can be folded is open."""
    page.evaluate(_UNFOLD)
    yield
    page.evaluate(_FOLD)
