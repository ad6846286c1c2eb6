"""What a page shows is let go of with the page, not when the garbage collector comes by."""

from __future__ import annotations

import gc
import weakref
from collections.abc import Iterator

import pytest
from django.http import HttpRequest
from django.template import engines
from django.template.loader import get_template
from django.test import RequestFactory


class Shown:
    def __str__(self) -> str:
        return "Carrots"


@pytest.fixture(autouse=True)
def no_collector() -> Iterator[None]:
    was = gc.isenabled()
    gc.disable()
    yield
    if was:
        gc.enable()


@pytest.mark.parametrize("asked", [None, RequestFactory().get("/")])
def test_a_row_goes_with_the_page_that_showed_it(asked: HttpRequest | None) -> None:
    shown = Shown()
    held = weakref.ref(shown)
    page = engines["django"].from_string("{% with again=shown %}{{ again }}{% endwith %}")
    assert page.render({"shown": shown}, asked) == "Carrots"
    del shown
    assert held() is None


def test_a_template_found_by_its_name_likewise() -> None:
    shown = Shown()
    held = weakref.ref(shown)
    get_template("400.html").render({"shown": shown}, RequestFactory().get("/"))
    del shown
    assert held() is None
