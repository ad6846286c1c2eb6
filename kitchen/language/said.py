"""What the program words in English, said in the language that is active.

The scheduler knows no languages, and much of what it and the kitchen's rules say is written down before anybody
reads it: a plan with its reasons, a load's deviation, news of the rota. So Python words everything in English, and
whoever shows it passes it through ``said``. That finds the sentence among those of the catalog, in which ``{1}``,
``{2}`` stand for the values, says it in the reader's language, and says the values likewise. What is not in the
catalog, a name or a code, stays as it is.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from gettext import GNUTranslations
from pathlib import Path
from typing import TYPE_CHECKING

from django.conf import settings
from django.utils import dates, translation

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

LOCALE = Path(__file__).resolve().parent.parent / "locale"
DOMAIN = "sentences"

_HOLE = re.compile(r"\{(\d+)\}")
# A value never holds the end of one sentence and the beginning of the next.
_VALUE = r"((?:(?![.!?] [A-Z]).)*?)"
_FEWEST_LETTERS = 2
_MARKS = ".:,;"
_SHORT = 3
_SURE_LETTERS = 4
"""A pattern with fewer letters, such as "{1} to {2}", fits many words by chance: its values must be figures."""
_FIGURES = re.compile(r"[\d\W]*|.*\d.*")
_SENTENCE_END = re.compile(r"(?<=[.!?]) +(?=[A-Z“\d])")
_PARTS = re.compile(r"(; |, |: | and | or |\n| \(|\))")
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def _names(names: tuple[str, ...]) -> str:
    return "|".join(rf"{name[:3]}(?:{name[3:]})?\b" for name in names)


_DATE = re.compile(
    rf"(?P<day>{_names(_DAYS)})?,?(?P<number> ?\d{{1,2}})?(?P<month> (?:{_names(_MONTHS)}))?(?P<rest>[ ,\d:]*)"
)


def said(words: object) -> str:
    """These words in the language that is active; in English as they are."""
    text = str(words)
    language = translation.get_language() or settings.LANGUAGE_CODE
    if language.startswith("en") or not text:
        return text
    return _said(language, text)


@dataclass(frozen=True, slots=True)
class _Pattern:
    """A sentence with values in it, and the same in the other language."""

    literal: str
    letters: int
    regex: re.Pattern[str]
    other: str

    def read(self, text: str) -> tuple[str, ...] | None:
        """The values, when the text is this sentence."""
        if self.literal not in text:
            return None
        found = self.regex.fullmatch(text)
        if found is None:
            return None
        values = found.groups()
        if self.letters < _SURE_LETTERS and not all(_FIGURES.fullmatch(value) for value in values):
            return None
        return values


@dataclass(frozen=True, slots=True)
class Phrasebook:
    """The sentences of one language: whole ones, and those with values, the most telling first."""

    whole: Mapping[str, str]
    patterns: tuple[_Pattern, ...]

    def find(self, text: str) -> tuple[str, tuple[str, ...]] | None:
        """The sentence in the other language, with the values to be put into it."""
        if (known := self.whole.get(text)) is not None:
            return known, ()
        for pattern in self.patterns:
            if (values := pattern.read(text)) is not None:
                return pattern.other, values
        return None


def make_phrasebook(entries: Iterable[tuple[str, str]]) -> Phrasebook:
    """A phrasebook of English sentences, each with the same in the other language; empty ones are left out."""
    whole: dict[str, str] = {}
    patterns = []
    for english, other in entries:
        if not english or not other:
            continue
        if not _HOLE.search(english):
            whole[english] = other
            continue
        literals = _HOLE.split(english)[::2]
        letters = sum(map(str.isalpha, "".join(literals)))
        if letters < _FEWEST_LETTERS:
            continue
        regex = re.compile(_VALUE.join(map(re.escape, literals)), re.DOTALL)
        patterns.append(_Pattern(max(literals, key=len), letters, regex, other))
    return Phrasebook(whole, tuple(sorted(patterns, key=lambda one: -one.letters)))


@cache
def phrasebook(language: str) -> Phrasebook:
    """The phrasebook of this language, read from its compiled catalog; an empty one when there is none."""
    path = LOCALE / translation.to_locale(language) / "LC_MESSAGES" / f"{DOMAIN}.mo"
    if not path.is_file():
        return make_phrasebook(())
    with path.open("rb") as file:
        return make_phrasebook(_Catalog(file).entries())


class _Catalog(GNUTranslations):
    """A compiled catalog that tells its entries."""

    _catalog: dict[str, str]

    def entries(self) -> Iterable[tuple[str, str]]:
        """Each English sentence and the other."""
        return self._catalog.items()


@lru_cache(maxsize=4096)
def _said(language: str, text: str) -> str:
    if not text.strip():
        return text
    if (found := _known(language, text)) is not None:
        return found
    for separator in (_SENTENCE_END, _PARTS):
        if (joined := _piece_by_piece(language, text, separator)) is not None:
            return joined
    return text


def _known(language: str, text: str) -> str | None:
    """The text as one sentence, as a date, or as a word written small or large; None when it is none of these."""
    book = phrasebook(language)
    if (found := book.find(text)) is not None:
        other, values = found
        return _HOLE.sub(lambda hole: _said(language, values[int(hole[1]) - 1]), other)
    if (date := _DATE.fullmatch(text)) is not None and (date["day"] or date["month"]):
        return _date(date)
    if text[-1] in _MARKS and len(text) > 1 and (found_bare := _known(language, text[:-1])) is not None:
        return found_bare + text[-1]
    swapped = text[:1].swapcase() + text[1:]
    if (found := book.find(swapped)) is None:
        return None
    other = _HOLE.sub(lambda hole: _said(language, found[1][int(hole[1]) - 1]), found[0])
    return other[:1].upper() + other[1:] if text[:1].isupper() else other[:1].lower() + other[1:]


def _piece_by_piece(language: str, text: str, separator: re.Pattern[str]) -> str | None:
    """The longest known beginning, then the rest likewise; None when nothing of it is known."""
    ends = [(one.start(), one.end()) for one in separator.finditer(text)]
    for start, end in reversed(ends):
        if (first := _known(language, text[:start])) is not None:
            return first + _joint(language, text[start:end]) + _said(language, text[end:])
    for start, end in ends:
        rest = _said(language, text[end:])
        if rest != text[end:]:
            return text[:start] + _joint(language, text[start:end]) + rest
    return None


def _joint(language: str, words: str) -> str:
    known = phrasebook(language).whole.get(words.strip())
    return words if known is None else words.replace(words.strip(), known)


def _date(found: re.Match[str]) -> str:
    day, month = found["day"] or "", (found["month"] or "").strip()
    if day:
        number = [name[:3] for name in _DAYS].index(day[:3])
        day = str((dates.WEEKDAYS_ABBR if len(day) == _SHORT else dates.WEEKDAYS)[number])
    if month:
        number = [name[:3] for name in _MONTHS].index(month[:3]) + 1
        month = " " + str((dates.MONTHS_3 if len(month) == _SHORT else dates.MONTHS)[number])
    return f"{day}{found['number'] or ''}{month}{found['rest']}"
