"""No page that the demo's people can reach shows a word that was not translated."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from html import unescape

import pytest
from django.conf import settings
from django.test import Client
from django.urls import Resolver404, resolve

from kitchen.demo.actions import load_demo, plan_demo
from kitchen.equipment.models import Burner, Canner, CoolingTable, GaugeCheck, Kettle
from kitchen.export.tables import TABLES
from kitchen.members.models import Kitchen, Role, User
from tests.factories.walks import signed_in
from tests.factories.widened import widened

pytestmark = pytest.mark.django_db

WEDNESDAY = datetime(2026, 9, 9, 12, tzinfo=UTC)
MOST_OF_A_KIND = 4
"""So many pages of each address pattern are read."""

HREF = re.compile(r'<(?:a|img)\b[^>]*?\b(?:href|src)="([^"#]*)')
ATTRIBUTES = re.compile(r'\b(?:aria-label|alt|title|placeholder|data-label)="([^"]*)"')
# A publication is cited as it is printed.
TAGS = re.compile(r"<(?:script|style|cite)\b.*?</(?:script|style|cite)>|<!doctype[^>]*>|<[^>]*>", re.S | re.I)
WORD = re.compile(r"[A-Za-z]{2,}")
# Units and names that are the same in both languages.
SAME = {"de", "lb", "min", "ft", "in", "oz", "qt", "pt", "mm", "English", "USDA"}


@pytest.fixture
def kitchen() -> Kitchen:
    kitchen = load_demo(now=WEDNESDAY).kitchen
    plan_demo(kitchen=kitchen, today=WEDNESDAY.date(), seconds=1)
    return kitchen


@pytest.fixture
def wide() -> Iterator[None]:
    with widened():
        yield


def data() -> re.Pattern[str]:
    """The names that people gave: of themselves and of their equipment."""
    names = {settings.KITCHEN_URL, *(str(kitchen) for kitchen in Kitchen.objects.all())}
    for user in User.objects.all():
        names |= {user.email, user.display_name, *user.display_name.split()}
    for model in (Burner, Canner, CoolingTable, Kettle):
        names |= set(model.objects.values_list("name", flat=True))
    names |= {table.name for table in TABLES}
    names |= set(GaugeCheck.objects.values_list("checked_by", flat=True))
    longest_first = sorted(map(str, names), key=lambda name: (-len(name), name))
    codes = (r"[A-Z]{2,4}-[A-Z]+-\d{5}-\w+-\d+(?:-[A-Z])?", r"\b[0-9a-f]{64}\b")
    # A publication is cited as it is printed.
    cited = r"\b(?:USDA )?AIB 539[^();.]*(?:\([^()]*\))?[^();.]*"
    return re.compile(
        "|".join([*codes, cited, *(rf"\b{re.escape(name)}\b" for name in longest_first if name)])
    )


def words_left(page: str, names: re.Pattern[str]) -> list[str]:
    """The pieces of a page in which plain letters are left that belong to no name."""
    pieces = [*ATTRIBUTES.findall(page), *TAGS.split(page)]
    told = (names.sub(" ", unescape(piece)).strip() for piece in pieces)
    return [piece for piece in told if {*WORD.findall(piece)} - SAME]


def pages(client: Client) -> Iterator[tuple[str, str]]:
    """Every page that links lead to from the front page, a few of each kind."""
    waiting, seen, kinds = ["/", "/about-me/"], set[str](), dict[str, int]()
    while waiting:
        address = waiting.pop(0)
        if address in seen or not address.startswith("/"):
            continue
        seen.add(address)
        try:
            kind = resolve(address.partition("?")[0]).route
        except Resolver404:
            continue
        if kind.startswith("admin") or kinds.get(kind, 0) >= MOST_OF_A_KIND:
            continue
        kinds[kind] = kinds.get(kind, 0) + 1
        answer = client.get(address, follow=True)
        if answer.headers["Content-Type"].startswith(("text/html", "image/svg")):
            page = answer.content.decode()
            yield address, page
            waiting += [unescape(one) for one in HREF.findall(page)]


def test_no_page_shows_an_untranslated_word(kitchen: Kitchen, wide: None) -> None:
    names = data()
    left: dict[str, str] = {}
    read = set()
    for role in Role:
        user = kitchen.memberships.filter(role=role, under_16=False).first().user  # type: ignore[union-attr]
        User.objects.filter(pk=user.pk).update(language="es")
        for address, page in pages(signed_in(user)):
            read.add(address)
            for piece in words_left(page, names):
                left.setdefault(piece, address)
    assert len(read) > 30
    assert not left, "\n".join(f"{piece!r} on {address}" for piece, address in left.items())
