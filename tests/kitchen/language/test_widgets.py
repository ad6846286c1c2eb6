"""A list that is kept is what the framework's own list would be, for whatever is in it and chosen from it."""

from __future__ import annotations

from typing import Any

import pytest
from django import forms
from django.core.cache import caches

from kitchen.language import pieces
from kitchen.language.person import written_for
from kitchen.language.widgets import KeptSelect

JARS: Any = (("", "Choose"), ("pint", "Pint"), ("quart", "Quart"))
OTHERS: Any = (("", "Choose"), ("pint", "Pint"), ("half_pint", "<b>Half-pint"))
GROUPS: Any = (("Tansy", [("1", "Prep, 09:00"), ("2", "Fill, 10:00")]), ("Sorrel", [("3", "Prep, 09:00")]))


@pytest.fixture(autouse=True)
def _nothing_kept() -> None:
    caches[pieces.CACHE].clear()


def test_it_is_the_frameworks_own_list_for_whatever_it_is_asked() -> None:
    asked: list[tuple[Any, str, object, dict[str, Any]]] = [
        (choices, name, value, attrs)
        for choices in (JARS, OTHERS, GROUPS, (*GROUPS[:1], ("Sorrel", [("3", "Prep, 11:00")])))
        for name in ("jar", "wants")
        for value in ("", "pint", "quart", "3", None)
        for attrs in ({}, {"id": "id_jar"}, {"id": "id_jar", "aria-invalid": "true"})
    ]
    told = set()
    for choices, name, value, attrs in asked * 2:
        plain = forms.Select(choices=choices).render(name, value, attrs)
        assert KeptSelect(choices=choices).render(name, value, attrs) == plain
        told.add(plain)
    assert 'value="quart" selected' in "".join(told)
    assert "&lt;b&gt;Half-pint" in "".join(told)
    assert '<optgroup label="Sorrel">' in "".join(told)


def test_it_is_in_the_readers_language() -> None:
    def of(language: str) -> str:
        with written_for(language, "us"):
            return KeptSelect(choices=[("canner", "Canner")]).render("station", "")

    assert ">Canner<" in of("en")
    assert ">Olla<" in of("es") or ">Olla de conservas<" in of("es")
    assert ">Canner<" in of("en")
