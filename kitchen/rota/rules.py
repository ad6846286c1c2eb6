"""When a person may be put down for a time."""

from __future__ import annotations

from datetime import datetime

from kitchen.errors import AlreadyDecided, BadHarvestDay, BadMembership, BadTime
from kitchen.members.models import User
from kitchen.members.rules import untrained
from kitchen.planning.models import DayState, HarvestDay
from kitchen.rota.models import Attendance, Shift, Station
from kitchen.rota.takers import Taker

# Boiling pots, hot canners and hot jars are not for under-16s, nor is cleaning after them (rule S9; common practice, no
# source), as the planner has it.
ADULT_STATIONS = frozenset({Station.CANNER, Station.KETTLE, Station.COOLING})
ADULT_TASKS = frozenset({"cleaning"})
MOST_WANTED = 12
"""The most helpers asked for in one go: a guard against slips of typing."""


def check_attendance(day: HarvestDay, user: User, starts_at: datetime, ends_at: datetime) -> None:
    """Refuse hours on a closed day, outside the day's opening, or overlapping hours given before."""
    if day.state == DayState.CLOSED:
        raise BadHarvestDay(f"{day} is over.", remedy="Choose a day to come.")
    if not day.opens_at <= starts_at < ends_at <= day.closes_at:
        zone = day.kitchen.zone
        raise BadTime(
            "These hours lie outside the day, or end before they start.",
            remedy=f"The kitchen is open from {day.opens_at.astimezone(zone):%H:%M} "
            f"to {day.closes_at.astimezone(zone):%H:%M}.",
        )
    others = Attendance.objects.filter(
        harvest_day=day, user=user, starts_at__lt=ends_at, ends_at__gt=starts_at
    )
    if others.exists():
        raise BadTime(f"{user} gave hours that overlap these.", remedy="Take the old hours back first.")


def check_can_take(shift: Shift, taker: Taker, *, at: datetime, giving: Shift | None = None) -> None:
    """Refuse a person who may not be at this station, or is elsewhere from ``at`` on.

    Whoever takes it belongs to the kitchen, is trained on the day for a canner (rule S9), 16 for anything hot or for
    cleaning, and did not say that they cannot; with whom they come is there all the while. ``giving`` is a shift that
    they give away for it.
    """
    check_still_to_come(shift, at)
    check_suited(shift, taker)
    starts_at = max(shift.starts_at, at)
    _check_company(shift, taker, starts_at)
    elsewhere = [
        one
        for one in taker.near(shift)
        if one.starts_at < shift.ends_at and one.ends_at > starts_at and one != giving
    ]
    if shift.is_watch:
        watches = [one for one in elsewhere if one.station == Station.CANNER]
        check_watches(shift, taker.user, starts_at, watches)
        elsewhere = [one for one in elsewhere if one.station != Station.CANNER]
    if elsewhere:
        other, zone = elsewhere[0], shift.harvest_day.kitchen.zone
        raise BadTime(
            f"{taker.user} is at another station then: {Station(other.station).label.lower()}, "
            f"{other.starts_at.astimezone(zone):%H:%M} to {other.ends_at.astimezone(zone):%H:%M}.",
            remedy="Choose a person who is free, or give that shift back first.",
        )


def check_on_harvest_day(shift: Shift) -> None:
    """Refuse to give back or swap a watch in canner time that somebody booked: it is theirs to arrange (rule S9)."""
    if not shift.harvest_day.is_harvest:
        raise BadHarvestDay(
            "This watch belongs to canner time that was booked.",
            remedy="Ask whoever booked it to change the booking, or a lead to give the watch to somebody else.",
        )


def check_still_to_come(shift: Shift, at: datetime) -> None:
    """Refuse a shift that fell away, is over, or belongs to a day that is."""
    if shift.harvest_day.state == DayState.CLOSED:
        raise BadHarvestDay(f"{shift.harvest_day} is over.", remedy="Choose a day to come.")
    if shift.cancelled_at is not None:
        raise AlreadyDecided("This shift no longer stands.", remedy="Look at the newest rota.")
    if shift.ends_at <= at:
        raise BadTime("This shift is over.", remedy="Choose one that is still to come.")


def check_not_begun(shift: Shift, at: datetime) -> None:
    """Refuse a shift that fell away or has begun: from then on only a lead takes somebody off it."""
    check_still_to_come(shift, at)
    if shift.starts_at <= at:
        raise BadTime("This shift has begun.", remedy="Tell the lead, who can put somebody else there.")


def check_wanted(day: HarvestDay, starts_at: datetime, ends_at: datetime, count: int, at: datetime) -> None:
    """Refuse helpers for a day that is over, for hours outside it or past, or for more people than a kitchen holds."""
    if day.state == DayState.CLOSED:
        raise BadHarvestDay(f"{day} is over.", remedy="Choose a day to come.")
    if not day.opens_at <= starts_at < ends_at <= day.closes_at or ends_at <= at:
        zone = day.kitchen.zone
        raise BadTime(
            "These hours lie outside the day, are past, or end before they start.",
            remedy=f"The kitchen is open from {day.opens_at.astimezone(zone):%H:%M} "
            f"to {day.closes_at.astimezone(zone):%H:%M}.",
        )
    if not 1 <= count <= MOST_WANTED:
        raise BadTime(f"{count} people cannot be asked for at once.", remedy=f"Ask for 1 to {MOST_WANTED}.")


def check_suited(shift: Shift, taker: Taker) -> None:
    """Refuse a stranger, a person under 16 at anything hot, an untrained person at a canner, and a person who said that
    they cannot work at this station.
    """
    kitchen, user, membership = shift.harvest_day.kitchen, taker.user, taker.membership
    if membership is None:
        raise BadMembership(f"{user} does not belong to {kitchen}.", remedy="Choose a member of the kitchen.")
    if membership.under_16 and (shift.station in ADULT_STATIONS or shift.task in ADULT_TASKS):
        raise BadMembership(
            f"{user} is under 16: canners, kettles, hot jars and cleaning are for older members.",
            remedy="Choose prep or fill (common practice, no source).",
        )
    if shift.is_watch and not taker.may_watch:
        raise untrained(user)
    if shift.station in taker.said.cannot:
        raise BadMembership(
            f"{user} said that they cannot work at this station: {shift.get_station_display().lower()}.",
            remedy="Choose another person, or another shift. The wishes are changed by the person or a lead, "
            'on the page "When and where I can help".',
        )


def _check_company(shift: Shift, taker: Taker, starts_at: datetime) -> None:
    """Refuse work while the person with whom somebody comes and goes is not there."""
    company = taker.company
    if company is None or any(start <= starts_at and shift.ends_at <= end for start, end in company.hours):
        return
    zone = shift.harvest_day.kitchen.zone
    raise BadTime(
        f"{taker.user} comes and goes with {company.user}, who is not here for all of "
        f"{starts_at.astimezone(zone):%H:%M} to {shift.ends_at.astimezone(zone):%H:%M}.",
        remedy="Choose a shift within the hours of both. With whom somebody comes is changed on the page "
        '"When and where I can help".',
    )


def check_watches(shift: Shift, user: User, starts_at: datetime, watches: list[Shift]) -> None:
    """Rule S9: at no moment more canners than the kitchen allows. Two parts of one load's watch are one canner."""
    limit = shift.harvest_day.kitchen.canners_per_person
    for moment in (starts_at, *(one.starts_at for one in watches if one.starts_at > starts_at)):
        watched = [one for one in watches if one.starts_at <= moment < one.ends_at]
        if len({one.load_id or -one.pk for one in (*watched, shift)}) > limit:
            raise BadTime(
                f"{user} would watch more than {limit} canners at once.",
                remedy="Choose another trained person (rule S9).",
            )
