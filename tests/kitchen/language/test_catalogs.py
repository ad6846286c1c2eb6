"""The catalogs hold what the program says, all of it is translated, and they are compiled as they stand."""

from __future__ import annotations

import re
from pathlib import Path

import polib
import pytest

from kitchen.language.said import phrasebook
from scheduler.caution import CAUTION, SHORT_CAUTION
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
    place = re.compile(r"%\(\w+\)[.\d]*[a-z]|\{\d+\}")
    for one in polib.pofile(str(path)):
        if not is_translated(one):
            continue
        pairs = [(one.msgid, one.msgstr)]
        if one.msgid_plural:
            pairs = [(one.msgid, one.msgstr_plural[0]), (one.msgid_plural, one.msgstr_plural[1])]
        for text, other in pairs:
            assert set(place.findall(other)) == set(place.findall(text)), one.msgid


@CATALOGS
def test_nothing_is_left_without_a_translation(path: Path) -> None:
    assert [one.msgid for one in polib.pofile(str(path)) if not is_translated(one)] == []


def test_every_sentence_is_found_again_as_itself() -> None:
    book = phrasebook("es")
    for one in polib.pofile(str(SENTENCES)):
        if sum(map(str.isalpha, re.sub(r"\{\d+\}", "", one.msgid))) < 2:
            continue  # Nothing but places and marks: its values are said one by one.
        found = book.find(re.sub(r"\{(\d+)\}", r"7\1", one.msgid))
        assert found is not None, one.msgid
        other, values = found
        said = other
        for number, value in enumerate(values, 1):
            said = said.replace(f"{{{number}}}", value)
        assert said == re.sub(r"\{(\d+)\}", r"7\1", one.msgstr), one.msgid


def test_the_caution_asks_for_a_licensed_reader() -> None:
    notes = {one.msgid: one.tcomment for one in polib.pofile(str(SENTENCES))}
    assert all("licensed" in notes[words] for words in (CAUTION, SHORT_CAUTION))


def test_a_sentence_in_code_is_found_with_numbered_places() -> None:
    source = 'def f(a):\n    "A docstring."\n    raise Bad(f"Jar {a.b()} fell: {a!r}.", remedy="Sweep up.")\n'
    found = {one.words: one.values for one in sentences_in(source, "somewhere.py")}
    assert found == {"Jar {1} fell: {2}.": ("a.b()", "a"), "Sweep up.": ()}
