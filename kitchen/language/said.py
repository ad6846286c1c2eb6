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
from html import escape, unescape
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
_VALUE = r"((?:(?![.!?] [A-Z]).)*{})"
_FEWEST_LETTERS = 2
_MARKS = ".:,;"
_AROUND = " ,:;"
_SHORT = 3
_CITED = ("USDA AIB ", "AIB ")
"""A publication is cited as it is printed."""
_SURE_LETTERS = 4
"""A pattern with fewer letters, such as "{1} to {2}", fits many words by chance: its values must be figures or be
known themselves.
"""
_FIGURES = re.compile(r"[\d\W]*(?:\d[\d\W]*[A-Za-z]{1,3}\W*)?|\S*\d\S*")
_COUNTED = re.compile(r"([\d.,:]+) ([a-z].*)", re.DOTALL)
_BETWEEN_TAGS = re.compile(r"(?<=>)[^<>]*[^<>\s][^<>]*(?=<)")
_SENTENCE_END = re.compile(r"(?<=[.!?]) +(?=[A-Z“\d])")
_PARTS = re.compile(r"; |, |: | and | or | \+ |\n| \(|\)")
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


def said_in_markup(markup: str) -> str:
    """A drawing with the words between its tags in the language that is active."""
    return _BETWEEN_TAGS.sub(lambda found: escape(said(unescape(found[0]))), markup)


@dataclass(frozen=True, slots=True)
class _Pattern:
    """A sentence with values in it, and the same in the other language."""

    literal: str
    letters: int
    marks: int
    short: re.Pattern[str]
    long: re.Pattern[str]
    other: str

    def read(self, text: str) -> list[tuple[str, ...]]:
        """The values, when the text is this sentence: with the first ones short and, where that differs, long."""
        if self.literal not in text or (short := self.short.fullmatch(text)) is None:
            return []
        long = self.long.fullmatch(text)
        return (
            [short.groups()]
            if long is None or long.groups() == short.groups()
            else [short.groups(), long.groups()]
        )


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
            readings = pattern.read(text)
            if pattern.letters < _SURE_LETTERS:
                readings = [one for one in readings if all(map(self._is_sure, one))]
            if readings:
                return pattern.other, max(readings, key=lambda values: sum(map(self._is_sure, values)))
        return None

    def _is_sure(self, value: str) -> bool:
        """True for figures, and for what is known itself."""
        return _FIGURES.fullmatch(value) is not None or self.find(value) is not None


def make_phrasebook(entries: Iterable[tuple[str, str]]) -> Phrasebook:
    """A phrasebook of English sentences, each with the same in the other language; empty ones are left out."""
    whole: dict[str, str] = {}
    patterns = []
    for english, other in (part for entry in entries for part in _with_what_follows(*entry)):
        if not english or not other:
            continue
        if not _HOLE.search(english):
            whole[english] = other
            # A beginning such as "Open: " is also found without what follows it.
            whole.setdefault(english.strip(_AROUND), other.strip(_AROUND))
            continue
        literals = _HOLE.split(english)[::2]
        letters = sum(map(str.isalpha, "".join(literals)))
        if letters < _FEWEST_LETTERS:
            continue
        short, long = (
            re.compile(_VALUE.format(much).join(map(re.escape, literals)), re.DOTALL) for much in ("?", "")
        )
        patterns.append(_Pattern(max(literals, key=len), letters, len("".join(literals)), short, long, other))
    return Phrasebook(
        whole, tuple(sorted(patterns, key=lambda one: (-one.letters, -one.marks, -one.short.groups)))
    )


def _with_what_follows(english: str, other: str) -> Iterable[tuple[str, str]]:
    """The sentence, and what follows in it after a value that is a sentence itself: "{1} Do it soon"."""
    yield english, other
    if english.startswith("{1} ") and other.startswith("{1} ") and english[4:5].isupper():
        yield _HOLE.sub(_one_less, english[4:]), _HOLE.sub(_one_less, other[4:])


def _one_less(place: re.Match[str]) -> str:
    return f"{{{int(place[1]) - 1}}}"


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
    if text.startswith(_CITED):
        return text
    if (found := _known(language, text)) is not None:
        return found
    for separator in (_SENTENCE_END, _PARTS):
        if (joined := _piece_by_piece(language, text, separator)) is not None:
            return joined
    return _word_by_word(language, text) or text


def _known(language: str, text: str) -> str | None:
    """The text as one sentence, as a date, or as a word written small or large; None when it is none of these."""
    if not text.strip():
        return None
    if (date := _DATE.fullmatch(text)) is not None and (date["day"] or date["month"]):
        return _date(date)
    book = phrasebook(language)
    if (found := book.find(text)) is not None:
        other, values = found
        return _HOLE.sub(lambda hole: _said(language, values[int(hole[1]) - 1]), other)
    if (counted := _COUNTED.fullmatch(text)) is not None and (
        what := _known(language, counted[2])
    ) is not None:
        return f"{counted[1]} {what}"
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
            return _said(language, text[:start]) + _joint(language, text[start:end]) + rest
    return None


def _word_by_word(language: str, text: str) -> str | None:
    """A number, a jar and a food one after the other; None unless all of it is known."""
    for space in re.finditer(" ", text):
        first, rest = text[: space.start()], text[space.end() :]
        beginning = first if _FIGURES.fullmatch(first) else _known(language, first)
        if beginning is None:
            continue
        end = rest if _FIGURES.fullmatch(rest) else _known(language, rest) or _word_by_word(language, rest)
        if end is not None:
            return f"{beginning} {end}"
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
