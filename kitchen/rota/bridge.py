"""What is too much for one person, as the planner's rota counts it; who may take a shift; and calendars."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import lru_cache

from kitchen.errors import TooMuchWork
from kitchen.members.models import Kitchen, User
from kitchen.rota.models import Shift
from kitchen.rota.rules import check_can_take
from kitchen.rota.takers import Taker, taker_of, takers_of
from scheduler.agenda import Entry, entry_uid, when
from scheduler.caution import CAUTION
from scheduler.rota.question import Limits
from scheduler.rota.strain import Work, busy_minutes, faults

__all__ = [
    "CAUTION",
    "check_may_swap",
    "check_may_take",
    "check_not_too_long",
    "check_swap",
    "check_taker",
    "shift_entry",
]


def check_may_take(shift: Shift, user: User, *, at: datetime, giving: Shift | None = None) -> None:
    """Refuse a person who may not have this shift from ``at`` on. ``giving`` is what they give for it."""
    check_taker(shift, taker_of(user, shift), at=at, giving=giving)


def check_taker(shift: Shift, taker: Taker, *, at: datetime, giving: Shift | None = None) -> None:
    """The same, of a person who is known already."""
    check_can_take(shift, taker, at=at, giving=giving)
    kitchen = shift.harvest_day.kitchen
    before = taker.near(shift)
    too_much = _added(before, shift, giving, at, limits_of(kitchen))
    if too_much:
        raise TooMuchWork(
            f"{taker.user} would then have {too_much[0]}",
            remedy="Choose a person who has rested, or a shift that leaves room for a rest.",
        )
    if taker.said.most_minutes is None:
        return
    # What a person offers in one kitchen is no limit on what they do in another.
    here = [one for one in before if one.harvest_day.kitchen_id == kitchen.pk]
    too_much = _added(
        here, shift, giving, at, Limits(rest_minutes=kitchen.rest_minutes), taker.said.most_minutes
    )
    if too_much and not _is_no_more(here, shift, giving, at):
        raise TooMuchWork(
            f"{taker.user} would then have {too_much[0]}",
            remedy="Choose a shorter shift, or another person. Whoever can do more says so first, as the most hours "
            'in one day on the page "When and where I can help".',
        )


def _added(
    before: Sequence[Shift],
    shift: Shift,
    giving: Shift | None,
    at: datetime,
    limits: Limits,
    most_minutes: int | None = None,
) -> list[str]:
    """What is too much once the shift is taken. What is too much without it is not this shift's fault."""
    found = _faults(tuple(_after(before, shift, giving, at)), limits, most_minutes)
    if not found:
        return []
    known = _faults(tuple(_work(one) for one in before), limits, most_minutes)
    return [one for one in found if one not in known]


@lru_cache(maxsize=2048)
def _faults(work: tuple[Work, ...], limits: Limits, most_minutes: int | None) -> tuple[str, ...]:
    """It reads nothing but its arguments, and one person's work is looked at for every shift that is open."""
    return faults(work, limits, most_minutes)


def _is_no_more(before: Sequence[Shift], shift: Shift, giving: Shift | None, at: datetime) -> bool:
    """True when a swap leaves the person with no more to do than before."""
    return busy_minutes(_after(before, shift, giving, at)) <= busy_minutes([_work(one) for one in before])


def _after(before: Sequence[Shift], shift: Shift, giving: Shift | None, at: datetime) -> list[Work]:
    kept = [_work(one) for one in before if giving is None or one.pk != giving.pk]
    return [*kept, _work(shift, since=at)]


def check_may_swap(
    shift: Shift, wants: Shift | None, offered_by: User, accepts: User, *, at: datetime
) -> None:
    """Refuse a swap unless each person may have the other's shift in the place of their own."""
    people = takers_of([offered_by, accepts], [shift] if wants is None else [shift, wants])
    check_swap(shift, wants, people[offered_by.pk], people[accepts.pk], at=at)


def check_swap(shift: Shift, wants: Shift | None, offered_by: Taker, accepts: Taker, *, at: datetime) -> None:
    """The same, of people who are known already."""
    check_taker(shift, accepts, at=at, giving=wants)
    if wants is not None:
        check_taker(wants, offered_by, at=at, giving=shift)


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
    return _piece(starts_at, shift.ends_at, shift.station, shift.is_watch)


@lru_cache(maxsize=2048)
def _piece(starts_at: datetime, ends_at: datetime, station: str, is_watch: bool) -> Work:
    """One person's shifts are looked at again for each shift that the person might take."""
    return Work(_minute(starts_at), _minute(ends_at), station, is_watch)


def _minute(at: datetime) -> int:
    return int(at.timestamp()) // 60


def shift_entry(shift: Shift, kitchen: Kitchen, *, named: bool = False, lost: bool = False) -> Entry:
    """A person at a station; with the person's name where it is not their own calendar.

    ``lost`` is for the calendar of somebody who had the shift: it is struck out there, whoever has it now.
    """
    station = shift.get_station_display() + (f" ({shift.task})" if shift.task else "")
    about = f"\nLoad {shift.load}" if shift.load else ""
    return Entry(
        uid=entry_uid("shift", shift.uuid),
        start=shift.starts_at,
        end=shift.ends_at,
        summary=f"{station}: {shift.user or 'open, somebody is wanted'}" if named else station,
        description=when(shift.starts_at, shift.ends_at, kitchen.zone) + about,
        location=kitchen.name,
        sequence=shift.sequence,
        last_modified=shift.changed_at,
        cancelled=lost or shift.cancelled_at is not None,
    )
