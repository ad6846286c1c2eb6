"""What is too much for one person, as the planner's rota counts it, and whether a person may take a shift."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from kitchen.errors import TooMuchWork
from kitchen.members.models import Kitchen, User
from kitchen.rota.models import Shift
from kitchen.rota.queries import work_near
from kitchen.rota.rules import check_can_take
from scheduler.caution import CAUTION
from scheduler.rota.question import Limits
from scheduler.rota.strain import Work, faults

__all__ = ["CAUTION", "check_may_swap", "check_may_take", "check_not_too_long"]


def check_may_take(shift: Shift, user: User, *, at: datetime, giving: Shift | None = None) -> None:
    """Refuse a person who may not have this shift from ``at`` on. ``giving`` is what they give for it."""
    check_can_take(shift, user, at=at, giving=giving)
    kitchen = shift.harvest_day.kitchen
    limits = limits_of(kitchen)
    before = [one for one in work_near(user, shift) if one.pk != shift.pk]
    kept = [one for one in before if giving is None or one.pk != giving.pk]
    # What is too much without this shift is not this shift's fault.
    known = set(faults([_work(one) for one in before], limits))
    added = [one for one in faults([*map(_work, kept), _work(shift, since=at)], limits) if one not in known]
    if added:
        raise TooMuchWork(
            f"{user} would then have {added[0]}",
            remedy="Choose a person who has rested, or a shift that leaves room for a rest.",
        )


def check_may_swap(
    shift: Shift, wants: Shift | None, offered_by: User, accepts: User, *, at: datetime
) -> None:
    """Refuse a swap unless each person may have the other's shift in the place of their own."""
    check_may_take(shift, accepts, at=at, giving=wants)
    if wants is not None:
        check_may_take(wants, offered_by, at=at, giving=shift)


def check_not_too_long(kitchen: Kitchen, shifts: Iterable[Shift]) -> None:
    """Refuse a shift that nobody could take, because it alone is more than the kitchen asks of one person."""
    for shift in shifts:
        too_much = faults([_work(shift)], limits_of(kitchen))
        if too_much:
            raise TooMuchWork(
                f"Nobody can take this shift: {too_much[0]}", remedy="Ask for several shorter shifts."
            )


def limits_of(kitchen: Kitchen) -> Limits:
    """What the kitchen asks of nobody."""
    return Limits(
        break_minutes=kitchen.break_minutes,
        break_every_minutes=kitchen.break_every_minutes,
        meal_minutes=kitchen.meal_minutes,
        meal_after_minutes=kitchen.meal_after_minutes,
        longest_shift_minutes=kitchen.longest_shift_minutes,
        rest_minutes=kitchen.rest_minutes,
        walking_minutes=kitchen.walking_minutes,
    )


def _work(shift: Shift, since: datetime | None = None) -> Work:
    """A shift, or what is left of it after ``since``, in minutes. A watch is not left for a rest (rule S9)."""
    starts_at = shift.starts_at if since is None else max(shift.starts_at, since)
    return Work(_minute(starts_at), _minute(shift.ends_at), shift.station, shift.is_watch)


def _minute(at: datetime) -> int:
    return int(at.timestamp()) // 60
