"""The tables of measured times and the newest records, written once while they are as they are."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.safestring import SafeString

from kitchen.language.pieces import columns_of, kept_forms, kept_piece
from kitchen.learning.bridge import Section
from kitchen.learning.models import MeasuredTime
from kitchen.members.models import Kitchen


def sections_piece(kitchen: Kitchen, sections: Sequence[Section]) -> SafeString:
    """What is expected of each canner and of each kind of work, and what was recorded."""
    return kept_piece("learning/sections.html", sections, lambda: {"sections": sections}, kitchen.zone)


def newest_piece(
    secret: str, kitchen: Kitchen, newest: Sequence[tuple[MeasuredTime, bool]], *, runs: bool
) -> SafeString | None:
    """The newest records, and whether each counts; None while there are none. ``secret`` is that of the forms."""
    facts = [
        (
            columns_of(time),
            counted,
            time.canner and time.canner.name,
            time.load and time.load.lot_code,
            time.batch and time.batch.food_name,
        )
        for time, counted in newest
    ]
    shown = {"kitchen": kitchen, "newest": newest, "runs": runs}
    whole = (kitchen.slug, runs, facts)
    return kept_forms(secret, "learning/newest.html", whole, lambda: shown, kitchen.zone) if newest else None
