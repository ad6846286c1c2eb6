"""The catalogs hold what the program says, all of it is translated, and they are compiled as they stand."""

from __future__ import annotations

import re
from pathlib import Path

import polib
import pytest

from tests.catalogs.catalogs import PAGES, SENTENCES, both, compiled, is_translated
from tests.catalogs.words_of_code import sentences_in

CATALOGS = pytest.mark.parametrize("path", [PAGES, SENTENCES], ids=lambda path: str(path.stem))
RENEW = "run: python -m tests.catalogs"


def test_they_hold_what_there_is_to_say() -> None:
    for path, catalog in both():
        kept = polib.pofile(str(path))
        assert [one.msgid for one in kept] == [one.msgid for one in catalog], RENEW
        assert [one.comment.split() for one in kept] == [one.comment.split() for one in catalog], RENEW


@CATALOGS
def test_they_are_compiled_as_they_stand(path: Path) -> None:
    wanted = {(one.msgctxt, one.msgid): one for one in compiled(polib.pofile(str(path)))}
    held = {(one.msgctxt, one.msgid): one for one in polib.mofile(str(path.with_suffix(".mo")))}
    assert wanted.keys() == held.keys(), RENEW
    for key, one in wanted.items():
        assert (one.msgstr, one.msgstr_plural) == (held[key].msgstr, held[key].msgstr_plural), RENEW


@CATALOGS
def test_a_translation_has_the_values_of_its_text(path: Path) -> None:
    place = re.compile(r"%\(\w+\)s|\{\d+\}")
    for one in polib.pofile(str(path)):
        if not is_translated(one):
            continue
        asked = set(place.findall(one.msgid_plural or one.msgid))
        for text in one.msgstr_plural.values() if one.msgid_plural else [one.msgstr]:
            assert set(place.findall(text)) == asked, one.msgid


def test_nothing_on_a_page_is_left_without_a_translation() -> None:
    assert [one.msgid for one in polib.pofile(str(PAGES)) if not is_translated(one)] == []


def test_a_sentence_in_code_is_found_with_numbered_places() -> None:
    source = 'def f(a):\n    "A docstring."\n    raise Bad(f"Jar {a.b()} fell: {a!r}.", remedy="Sweep up.")\n'
    found = {one.words: one.values for one in sentences_in(source, "somewhere.py")}
    assert found == {"Jar {1} fell: {2}.": ("a.b()", "a"), "Sweep up.": ()}
