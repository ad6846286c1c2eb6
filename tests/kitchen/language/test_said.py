"""Words made in English, found again and said in another language with their values."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from django.utils import translation

from kitchen.language import said as module
from kitchen.language.said import make_phrasebook, said

BOOK = make_phrasebook(
    [
        ("", "header"),
        ("Green beans", "Ejotes"),
        ("pint", "pinta"),
        ("and", "y"),
        ("Choose another time.", "Elija otra hora."),
        ("{1} is taken", "{1} está ocupada"),
        ("{1} {2} jar{3} of {4}", "{1} frasco{3} ({2}) de {4}"),
        ("{1} to {2}", "de {1} a {2}"),
        ("{1} {2}", "never"),
        ("untranslated", ""),
    ]
)


@pytest.fixture(autouse=True)
def in_spanish(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(module, "phrasebook", lambda language: BOOK)
    module._said.cache_clear()
    with translation.override("es"):
        yield
    module._said.cache_clear()


@pytest.mark.parametrize(
    ("english", "other"),
    [
        ("Green beans", "Ejotes"),
        ("green beans", "ejotes"),
        ("P1 is taken. Choose another time.", "P1 está ocupada. Elija otra hora."),
        ("3 pint jars of green beans", "3 frascos (pinta) de ejotes"),
        ("1 pint jar of Green beans", "1 frasco (pinta) de Ejotes"),
        ("09:00 to 10:30", "de 09:00 a 10:30"),
        ("from Ana to Bea", "from Ana to Bea"),  # Too little of a sentence to be sure that it is one.
        ("pint; Green beans", "pinta; Ejotes"),
        ("pint and pint", "pinta y pinta"),
        ("Rosa Fuente", "Rosa Fuente"),
        ("untranslated", "untranslated"),
        ("Sat 5 Sep 14:10", "sáb 5 Sep 14:10"),
        ("Saturday 12 September", "Sábado 12 Septiembre"),
        ("", ""),
    ],
)
def test_what_is_known_is_said(english: str, other: str) -> None:
    assert said(english).casefold() == other.casefold()


def test_english_stays_as_it_is() -> None:
    with translation.override("en"):
        assert said("Green beans") == "Green beans"
