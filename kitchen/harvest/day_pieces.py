"""What people bring to a harvest day and when they help, written once for each state of it."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from django.utils.safestring import SafeString

from kitchen.batches.models import Batch, Jar, Pack
from kitchen.harvest.pages import Helper
from kitchen.language.pieces import kept_piece
from kitchen.planning.models import HarvestDay


def brought_piece(day: HarvestDay, batches: Sequence[Batch]) -> SafeString:
    """What is brought, batch by batch."""
    brought = [
        (
            one.jars,
            Jar(one.jar).label,
            one.food_name,
            Pack(one.pack).label,
            str(one.member),
            one.arrives_at,
            one.picks_up_at,
        )
        for one in batches
    ]
    return kept_piece("harvest/batches.html", brought, lambda: {"batches": brought}, day.kitchen.zone)


def helpers_piece(
    day: HarvestDay, helpers: Sequence[Helper], trained: Collection[int], *, is_open: bool
) -> SafeString:
    """Who helps and when. What the reader may take back has a button, which belongs to the form around it."""
    told = [
        (
            str(one.attendance.user),
            one.attendance.starts_at,
            one.attendance.ends_at,
            one.attendance.user_id in trained,
            one.clash,
            one.attendance.pk if is_open and one.may_take_back else None,
        )
        for one in helpers
    ]
    kitchen, uuid = day.kitchen.slug, str(day.uuid)
    return kept_piece(
        "harvest/helpers.html",
        (kitchen, uuid, told),
        lambda: {"helpers": told, "slug": kitchen, "uuid": uuid},
        day.kitchen.zone,
    )
