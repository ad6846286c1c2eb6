"""A language in which every translation shows: Spanish in wide letters, so that plain letters were not translated."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from gettext import GNUTranslations
from unittest.mock import patch

import polib
from django.utils.translation.trans_real import DjangoTranslation

from kitchen.language import said as sayings
from kitchen.language.said import make_phrasebook
from tests.catalogs.catalogs import SENTENCES, is_translated

_WIDE = {ord(one): ord(one) + 0xFEE0 for one in "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"}
_KEPT = re.compile(r"(%\(\w+\)[.\d]*[a-z]|%[sd%]|\{\w+\}|<[^>]*>|&\w+;)")
_DATE_FORMATS = {"j F", "j F Y", "l j F", "l j F Y"}


def widen(text: str) -> str:
    """The text in wide letters, but for the places of its values and its tags."""
    return "".join(
        part if number % 2 else part.translate(_WIDE) for number, part in enumerate(_KEPT.split(text))
    )


@contextmanager
def widened() -> Iterator[None]:
    """Within, whatever has a Spanish translation is in wide letters when Spanish is active."""
    plain, counted = GNUTranslations.gettext, DjangoTranslation.ngettext

    def gettext(self: DjangoTranslation, message: str) -> str:
        found = plain(self, message)
        catalog = self._catalog  # type: ignore[attr-defined]  # Its own, which the stubs leave out.
        known = message in catalog and message.rpartition("\x04")[2] not in _DATE_FORMATS
        return widen(found) if known else found

    def ngettext(self: DjangoTranslation, singular: str, plural: str, number: int) -> str:
        found = counted(self, singular, plural, number)
        return widen(found) if found not in {singular, plural} else found

    book = make_phrasebook(
        (one.msgid, widen(one.msgstr)) for one in polib.pofile(str(SENTENCES)) if is_translated(one)
    )
    sayings._said.cache_clear()
    with (
        patch.object(DjangoTranslation, "gettext", gettext),
        patch.object(DjangoTranslation, "ngettext", ngettext),
        patch.object(sayings, "phrasebook", lambda language: book),
    ):
        yield
    sayings._said.cache_clear()
