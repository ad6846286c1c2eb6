"""Tomorrow's shifts, told the evening before to whoever has them then."""

from __future__ import annotations

from collections import defaultdict
from datetime import UTC, datetime, time, timedelta

from kitchen.members.models import User
from kitchen.planning.models import DayState, HarvestDay
from kitchen.reminders.bridge import facts_of
from kitchen.reminders.models import Kind
from kitchen.reminders.planned import Planned, remind
from kitchen.rota.bridge import shift_entry
from kitchen.rota.models import Shift
from kitchen.rota.telling import rota_path, shift_words

EVENING_BEFORE = time(18)
"""On the kitchen's clock. The program's own figure."""


def remind_of_shifts(day: HarvestDay, *, at: datetime) -> int:
    """Have everybody told of the shifts that are theirs as of now; how many reminders that changed.

    Whoever gets their first shift after the evening before is not: news of the rota tells them.
    """
    wanted = {user: _planned(day, shifts) for user, shifts in _shifts_of(day).items()}
    return remind(kitchen=day.kitchen, kind=Kind.SHIFT, about=f"day:{day.uuid}", wanted=wanted, now=at)


def _shifts_of(day: HarvestDay) -> dict[User, list[Shift]]:
    """Everybody's shifts, the first one first; nobody's on a day that is not published or is over."""
    found: defaultdict[User, list[Shift]] = defaultdict(list)
    if day.state != DayState.PUBLISHED:
        return found
    shifts = Shift.objects.filter(harvest_day=day, cancelled_at__isnull=True, user__isnull=False)
    for shift in shifts.select_related("user", "load__canner", "harvest_day__kitchen").order_by(
        "starts_at", "id"
    ):
        assert shift.user is not None  # noqa: S101  (left out above)
        found[shift.user].append(shift)
    return found


def _evening_before(day: HarvestDay, starts_at: datetime) -> datetime:
    date = starts_at.astimezone(day.kitchen.zone).date() - timedelta(days=1)
    return datetime.combine(date, EVENING_BEFORE, day.kitchen.zone).astimezone(UTC)


def _planned(day: HarvestDay, shifts: list[Shift]) -> Planned:
    return Planned(
        due_at=_evening_before(day, shifts[0].starts_at),
        title=f"Your shifts on {day.date:%A %-d %B}",
        lines=tuple(shift_words(shift) for shift in shifts),
        path=rota_path(day, "rota:mine"),
        entries=tuple(facts_of(shift_entry(shift, day.kitchen)) for shift in shifts),
    )
