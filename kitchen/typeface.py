"""The type that PDF pages are set in: DejaVu Sans, which comes with the program (``fonts/LICENSE.txt``).

It has the letters of all languages written in Latin, Greek, Cyrillic, Armenian or Georgian script. Scripts that
run from right to left, or whose letters change with their neighbours, need more than a font and are not printed.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from pathlib import Path

from reportlab.pdfbase.pdfmetrics import registerFont, registerFontFamily
from reportlab.pdfbase.ttfonts import TTFont

FACE, BOLD_FACE = "DejaVuSans", "DejaVuSans-Bold"
MISSING = "\N{WHITE SQUARE}"
"""Stands for a letter that cannot be printed."""

_FOLDER = Path(__file__).parent / "fonts"
# Bidirectional classes of scripts that run from right to left (Unicode Standard Annex 9).
_LEFTWARD = frozenset({"R", "AL", "AN", "RLE", "RLO", "RLI"})


@cache
def ready() -> frozenset[int]:
    """Make both weights known to the PDF writer, once, and say which characters both of them have."""
    faces = [TTFont(name, str(_FOLDER / f"{name}.ttf")) for name in (FACE, BOLD_FACE)]
    for face in faces:
        registerFont(face)
    registerFontFamily(FACE, normal=FACE, bold=BOLD_FACE, italic=FACE, boldItalic=BOLD_FACE)
    return frozenset.intersection(*(frozenset(face.face.charToGlyph) for face in faces))


def letters_missing(text: str) -> str:
    """The letters that cannot be printed, each once; empty when all can. Spaces are none."""
    letters = unicodedata.normalize("NFC", text)
    return "".join(dict.fromkeys(one for one in letters if not one.isspace() and not _has(one)))


def printable(text: str) -> str:
    """The text as it can be set, a white square for each letter that cannot be printed."""
    letters = unicodedata.normalize("NFC", text)
    return "".join(one if one.isspace() or _has(one) else MISSING for one in letters)


def _has(letter: str) -> bool:
    # A mark that no letter took up stands where the font puts it, which is seldom right.
    if unicodedata.bidirectional(letter) in _LEFTWARD or unicodedata.combining(letter):
        return False
    return ord(letter) in ready()
