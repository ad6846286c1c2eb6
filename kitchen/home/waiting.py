"""What waits for somebody at the top of their page: loads on hold and jars to count, written once while they wait."""

from __future__ import annotations

from django.db.models import QuerySet
from django.utils.safestring import SafeString

from kitchen.language.pieces import kept_piece
from kitchen.members.models import Kitchen
from kitchen.planning.models import Load, LoadPortion

_HOLD = ("lot_code", "number", "deviation", "canner__uuid", "canner__name", "harvest_day__uuid")
_COUNT = (
    "uuid",
    "jars",
    "batch__jar",
    "batch__food_name",
    "batch__member__display_name",
    "batch__member__email",
    "load__lot_code",
    "load__jars_out_at",
)


def hold_piece(kitchen: Kitchen, on_hold: QuerySet[Load]) -> SafeString | None:
    """The loads on hold, each with its reason; None when there are none."""
    loads = list(on_hold.only(*_HOLD))
    facts = [
        (one.lot_code, one.number, one.deviation, one.canner.uuid, one.canner.name, one.harvest_day.uuid)
        for one in loads
    ]
    shown = {"kitchen": kitchen, "on_hold": loads}
    return kept_piece("home/hold.html", (kitchen.slug, facts), lambda: shown, kitchen.zone) if loads else None


def count_piece(kitchen: Kitchen, to_count: QuerySet[LoadPortion]) -> SafeString | None:
    """The jars whose seals wait to be checked; None when there are none."""
    portions = list(to_count.select_related(None).select_related("batch__member", "load").only(*_COUNT))
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
