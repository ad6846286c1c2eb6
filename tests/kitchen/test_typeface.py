"""Which letters PDF pages can print."""

from __future__ import annotations

import pytest

from kitchen.typeface import letters_missing, printable


@pytest.mark.parametrize(
    "name", ["Žofie Ґалайда", "Nguyễn Thị Ánh", "Ἀθηνᾶ", "Հայկ", "ქეთევან", "I\N{COMBINING DOT ABOVE}pek"]
)
def test_latin_greek_cyrillic_armenian_and_georgian_are_there(name: str) -> None:
    assert letters_missing(name) == ""


@pytest.mark.parametrize(("name", "missing"), [("Shira שרה", "שרה"), ("李雷 Li", "李雷"), ("سارة", "سارة")])
def test_what_cannot_be_set_is_told_and_marked(name: str, missing: str) -> None:
    assert letters_missing(name) == missing
    assert printable(name) == "".join("□" if one in missing else one for one in name)
