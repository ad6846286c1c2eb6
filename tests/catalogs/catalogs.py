"""The two catalogs of a language: what templates say, through gettext, and the sentences of the code."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import polib

from kitchen.language.said import DOMAIN, LOCALE
from tests.catalogs.vocabulary import vocabulary
from tests.catalogs.words_of_code import gettext_calls, modules, sentences
from tests.catalogs.words_of_templates import messages

LANGUAGE = "es"
_FOLDER = LOCALE / LANGUAGE / "LC_MESSAGES"
PAGES = _FOLDER / "django.po"
SENTENCES = _FOLDER / f"{DOMAIN}.po"


def wanted_pages() -> list[polib.POEntry]:
    """What the catalog of pages must hold, without translations."""
    found: dict[tuple[str, str, str], set[str]] = {}
    for one in messages():
        found.setdefault((one.context, one.text, one.plural), set()).add(one.template)
    for path in modules():
        for text, plural in gettext_calls(path):
            found.setdefault(("", text, plural or ""), set()).add(path.name)
    # A text that stands alone here and counted there is one entry of gettext.
    counted = {(context, text) for context, text, plural in found if plural}
    return [
        polib.POEntry(
            msgid=text,
            msgid_plural=plural,
            msgctxt=context or None,
            msgstr_plural={0: "", 1: ""} if plural else {},
            occurrences=[(where, "") for where in sorted(places)],
            flags=["python-format"] if "%(" in text else [],
        )
        for (context, text, plural), places in sorted(found.items())
        if plural or (context, text) not in counted
    ]


def wanted_sentences() -> list[polib.POEntry]:
    """What the catalog of sentences must hold, without translations; notes say what the numbered values are."""
    places: dict[str, set[str]] = {}
    values: dict[str, tuple[str, ...]] = {}
    for path in modules():
        for one in sentences(path):
            places.setdefault(one.words, set()).add(one.module)
            values.setdefault(one.words, one.values)
    for word, where in vocabulary():
        places.setdefault(word, set()).add(where)
    return [
        polib.POEntry(
            msgid=words,
            comment="; ".join(f"{{{number}}} {code}" for number, code in enumerate(values.get(words, ()), 1)),
            occurrences=[(where, "") for where in sorted(places[words])],
        )
        for words in sorted(places)
    ]


def renewed(path: Path, wanted: Iterable[polib.POEntry]) -> polib.POFile:
    """The catalog with exactly what is wanted, each with the translation and translator's notes that it had."""
    old = {_key(one): one for one in polib.pofile(str(path))} if path.is_file() else {}
    made = polib.POFile(wrapwidth=110)
    made.metadata = {
        "Language": LANGUAGE,
        "MIME-Version": "1.0",
        "Content-Type": "text/plain; charset=UTF-8",
        "Content-Transfer-Encoding": "8bit",
        "Plural-Forms": "nplurals=2; plural=(n != 1);",
    }
    for entry in wanted:
        if (before := old.get(_key(entry))) is not None:
            entry.msgstr, entry.msgstr_plural = before.msgstr, before.msgstr_plural
            entry.tcomment = before.tcomment
        made.append(entry)
    return made


def both() -> list[tuple[Path, polib.POFile]]:
    """Both catalogs, renewed, and where they stand."""
    return [(PAGES, renewed(PAGES, wanted_pages())), (SENTENCES, renewed(SENTENCES, wanted_sentences()))]


def write() -> list[str]:
    """Write both catalogs anew and compile them; one line for each."""
    told = []
    for path, catalog in both():
        path.parent.mkdir(parents=True, exist_ok=True)
        catalog.save(str(path))
        compiled(catalog).save_as_mofile(str(path.with_suffix(".mo")))
        missing = [one for one in catalog if not is_translated(one)]
        told.append(f"{path.name}: {len(catalog)} entries, {len(missing)} without a translation")
    return told


def compiled(catalog: polib.POFile) -> polib.POFile:
    """The catalog as it is compiled: what is not translated stays out, so that the English shows."""
    made = polib.POFile()
    made.metadata = catalog.metadata
    made.extend(one for one in catalog if is_translated(one))
    return made


def is_translated(entry: polib.POEntry) -> bool:
    """True when every form of the entry has a text."""
    return all(entry.msgstr_plural.values()) if entry.msgid_plural else bool(entry.msgstr)


def _key(entry: polib.POEntry) -> tuple[str | None, str, str]:
    return entry.msgctxt, entry.msgid, entry.msgid_plural
