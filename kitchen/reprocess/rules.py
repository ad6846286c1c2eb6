"""When another process still helps, and when a plan that was made for it may stand (rule S11)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from kitchen.errors import NoTimeAgain
from kitchen.planning.models import Load
from kitchen.seals.models import ReprocessOffer
from kitchen.seals.rules import again_by

# To come to the kitchen and begin. Common practice, no source.
LEAST_NOTICE = timedelta(minutes=45)

ASK_THE_LEAD = "Refrigerate the jars now, and ask the kitchen's lead at once whether a canner can be found."

Seen = Mapping[int, tuple[object, ...]]


def deadline_of(offer: ReprocessOffer) -> datetime:
    """Until when the second process must have begun; heat off may have been corrected since the offer was made."""
    return min(offer.deadline, again_by(offer.portion.load, offer.portion))


def process_starts(load: Load) -> datetime:
    """When a load is planned to be at pressure or boil."""
    return next(phase.starts_at for phase in load.phases.all() if phase.kind == "process")


def check_in_time(loads: Iterable[Load], deadline: datetime, zone_time: str) -> None:
    """Refuse a plan in which jars would be processed again too late; ``zone_time`` is the deadline in words."""
    for load in loads:
        if process_starts(load) >= deadline:
            raise NoTimeAgain(
                f"The process would begin at or after {zone_time}, 24 hours after the end of the first (rule S11).",
                remedy=ASK_THE_LEAD,
            )


def seen(loads: Iterable[Load]) -> dict[int, tuple[object, ...]]:
    """What people see of each load: its canner and the times of its phases."""
    return {
        load.pk: (
            load.canner_id,
            *sorted((one.kind, one.starts_at, one.ends_at) for one in load.phases.all()),
        )
        for load in loads
    }


def check_nothing_moved(before: Seen, after: Seen) -> None:
    """Refuse a plan that would move other people's loads: that is for the lead to decide."""
    if any(after.get(key) != told for key, told in before.items()):
        raise NoTimeAgain(
            "On that day it would fit only if other loads were moved.",
            remedy=ASK_THE_LEAD,
        )
