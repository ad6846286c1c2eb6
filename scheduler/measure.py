"""Amounts as a cook writes them."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction


def in_words(amount: float | Decimal) -> str:
    """A spoon or inch amount with its fraction: ``0.25`` is ``1/4`` and ``1.25`` is ``1 1/4``.

    Exact for the halves, quarters and eighths that the tables print; no rounding is done.
    """
    whole, part = divmod(Fraction(amount), 1)
    if not part:
        return str(whole)
    return f"{whole} {part}" if whole else str(part)
