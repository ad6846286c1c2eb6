"""What waits for somebody at the top of their page: loads on hold and jars to count, written once while they wait."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.safestring import SafeString

from kitchen.language.pieces import kept_piece
from kitchen.members.models import Kitchen
from kitchen.planning.models import Load, LoadPortion


def hold_piece(kitchen: Kitchen, loads: Sequence[Load]) -> SafeString | None:
    """The loads on hold, each with its reason; None when there are none."""
    facts = [
        (one.lot_code, one.number, one.deviation, one.canner.uuid, one.canner.name, one.harvest_day.uuid)
        for one in loads
    ]
    shown = {"kitchen": kitchen, "on_hold": loads}
    return kept_piece("home/hold.html", (kitchen.slug, facts), lambda: shown, kitchen.zone) if loads else None


def count_piece(kitchen: Kitchen, portions: Sequence[LoadPortion]) -> SafeString | None:
    """The jars whose seals wait to be checked; None when there are none."""
    facts = [
        (
            one.uuid,
            one.jars,
            one.batch.jar,
            one.batch.food_name,
            str(one.batch.member),
            one.load.lot_code,
            one.load.jars_out_at,
        )
        for one in portions
    ]
    shown = {"kitchen": kitchen, "to_count": portions}
    return (
        kept_piece("home/count.html", (kitchen.slug, facts), lambda: shown, kitchen.zone)
        if portions
        else None
    )
