"""Who may book with how many, and who watches."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from kitchen.booking.models import Hold
from kitchen.errors import AlreadyDecided, BadIntake, BadTime, NotAllowed
from kitchen.members.models import Kitchen, User
from kitchen.members.queries import ids_that_may_watch, membership_of
from kitchen.planning.models import Load
from kitchen.rota.queries import work_between
from kitchen.rota.rules import check_watches


def check_group(kitchen: Kitchen, people: int) -> None:
    """Refuse nobody, or more people than the kitchen lets come with one booking."""
    if not 1 <= people <= kitchen.most_in_group:
        raise BadIntake(
            f"{people} people are to come.",
            remedy=f"Come with 1 to {kitchen.most_in_group}, yourself counted; that is this kitchen's limit.",
        )


def check_age(kitchen: Kitchen, member: User) -> None:
    """Refuse a member under 16 unless the kitchen lets them book."""
    membership = membership_of(member, kitchen)
    if membership is not None and membership.under_16 and not kitchen.under_16_may_book:
        raise NotAllowed(
            f"{member} is under 16; this kitchen books canner time for older members only.",
            remedy="Ask a grown-up member to book, and come along.",
        )


def watcher_of(kitchen: Kitchen, member: User, chosen: User | None, on: date) -> User | None:
    """Who watches the canner: None when the member may, else the trained person who was chosen (rule S9)."""
    may = ids_that_may_watch(kitchen, on)
    if member.pk in may:
        return None
    if chosen is None or chosen.pk not in may:
        raise NotAllowed(
            f"{member} has no canner training that counts on {on:%-d %B}: a trained person must be at the canner "
            "(rule S9).",
            remedy="Choose a trained person who has agreed to come, or choose another day."
            if may
            else "Ask a lead.",
        )
    return chosen


def check_watch_fits(loads: Iterable[Load], watcher: User) -> None:
    """Refuse a watch at more canners at once than the kitchen allows, or while its person is elsewhere (rule S9).

    ``loads`` are written with their watches already.
    """
    for load in loads:
        for watch in load.shifts.filter(cancelled_at__isnull=True):
            others = [
                one for one in work_between([watcher.pk], watch.starts_at, watch.ends_at) if one != watch
            ]
            check_watches(watch, watcher, watch.starts_at, [one for one in others if one.is_watch])
            if any(not one.is_watch for one in others):
                raise BadTime(
                    f"{watcher} is at another station then.",
                    remedy="Choose another trained person (rule S9).",
                )


def check_still_wanted(hold: Hold) -> None:
    """Refuse a time that the member let go, or left for another."""
    if hold.let_go_at is not None:
        raise AlreadyDecided("You let this time go.", remedy="Choose a time again.")
