"""What is booked and waited for, written once while it is as it is."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.utils.safestring import SafeString

from kitchen.booking.models import Waiting
from kitchen.booking.queries import Booked
from kitchen.language.pieces import columns_of, kept_forms
from kitchen.members.models import Kitchen


def mine_piece(
    secret: str,
    kitchen: Kitchen,
    slots: Sequence[Booked],
    others: Sequence[Booked],
    waiting: Sequence[Waiting],
    now: datetime,
) -> SafeString:
    """One's own bookings and waits, and those of ``others``; ``secret`` is that of the reader's forms."""
    facts = (
        kitchen.slug,
        [_facts(one, now) for one in slots],
        [(_facts(one, now), str(one.slot.member)) for one in others],
        [columns_of(one) for one in waiting],
    )
    shown = {"kitchen": kitchen, "slots": slots, "others": others, "waiting": waiting, "now": now}
    return kept_forms(secret, "booking/mine.html", facts, lambda: shown, kitchen.zone)


def _facts(booked: Booked, now: datetime) -> tuple[object, ...]:
    """All that is shown of a booking, and whether it can still be changed."""
    slot, time = booked.slot, booked.slot.canner_time
    return (
        slot.uuid,
        time.starts_at,
        time.ends_at,
        time.starts_at > now,
        time.canner.name,
        time.canner.uuid,
        slot.batch and columns_of(slot.batch),
        booked.doubt,
        booked.load and booked.load.harvest_day.uuid,
    )
