"""Reads of who is there and who does what."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, timedelta

from django.db.models import F, Q, QuerySet

from kitchen.members.models import User
from kitchen.planning.models import HarvestDay
from kitchen.prepared import prepared
from kitchen.rota.models import Attendance, OfferState, Shift, SwapOffer

# Work this far from a shift may matter to the rest before and after it: the longest rest that a kitchen may set is a
# day, and the longest day 16 hours.
NEAR = timedelta(days=2)


def attendances_of(day: HarvestDay) -> QuerySet[Attendance]:
    """Who said they will be there, and when."""
    return Attendance.objects.filter(harvest_day=day).select_related("user").order_by("user_id", "starts_at")


def rota_of(day: HarvestDay) -> QuerySet[Shift]:
    """The day's standing shifts in the order of the clock. The day at hand is that of each; people, loads and canners
    are read once, however many shifts are theirs.
    """
    return day.shifts.filter(cancelled_at__isnull=True).prefetch_related("user", "load__canner")


def shifts_wanted(day: HarvestDay, after: datetime) -> list[Shift]:
    """The day's shifts that wait for somebody and are not over at this time, the first to begin first.

    The day at hand is that of each.
    """
    found = _wanted(day, after)
    for shift in found:
        shift.harvest_day = day
    return found


@prepared
def _wanted(day: HarvestDay, after: datetime) -> QuerySet[Shift]:
    wanted = Shift.objects.filter(
        harvest_day=day, cancelled_at__isnull=True, user__isnull=True, ends_at__gt=after
    )
    return wanted.order_by("starts_at", "station", "pk")


def watches_of(day: HarvestDay) -> list[Shift]:
    """The day's standing watches, open or not, in the order of the clock; who watches is read once.

    The day at hand is that of each.
    """
    found = _watches(day)
    for watch in found:
        watch.harvest_day = day
    return found


@prepared
def _watches(day: HarvestDay) -> QuerySet[Shift]:
    standing = Shift.objects.filter(harvest_day=day, station="canner", cancelled_at__isnull=True)
    return standing.order_by("starts_at", "pk").prefetch_related("user")


@prepared
def work_between(users: Collection[int], starts_at: datetime, ends_at: datetime) -> QuerySet[Shift]:
    """The standing shifts of these people, in any kitchen, that meet this span; the first to begin first.

    Of each what rests and watches are counted from: whose, when, where, at which load and in which kitchen.
    """
    standing = Shift.objects.filter(
        user__pk__in=users, cancelled_at__isnull=True, starts_at__lt=ends_at, ends_at__gt=starts_at
    )
    told = ("user", "station", "task", "load", "starts_at", "ends_at", "harvest_day__kitchen")
    return standing.select_related("harvest_day").only(*told).order_by("starts_at", "pk")


def standing_offers(day: HarvestDay, at: datetime) -> QuerySet[SwapOffer]:
    """The offers of a day that can be accepted: none of its shifts has begun, changed, changed hands or fallen away."""
    open_ones = SwapOffer.objects.filter(
        shift__harvest_day=day,
        state=OfferState.OPEN,
        shift__cancelled_at__isnull=True,
        shift__user=F("offered_by"),
        shift__sequence=F("shift_sequence"),
        shift__starts_at__gt=at,
    )
    wanted = Q(
        wants__cancelled_at__isnull=True,
        wants__user=F("to"),
        wants__sequence=F("wants_sequence"),
        wants__starts_at__gt=at,
    )
    return open_ones.filter(Q(wants__isnull=True) | wanted)


def offers_of(day: HarvestDay) -> QuerySet[SwapOffer]:
    """Every offer that was made of a day's shifts, whatever became of it, the oldest first."""
    return SwapOffer.objects.filter(shift__harvest_day=day).select_related(
        "offered_by",
        "to",
        "shift__user",
        "shift__load__canner",
        "shift__harvest_day__kitchen",
        "wants__user",
        "wants__load__canner",
        "wants__harvest_day__kitchen",
    )


def undecided_offers(day: HarvestDay, me: User) -> QuerySet[SwapOffer]:
    """The day's offers that nobody accepted or withdrew: one's own, those to oneself, and open ones to anybody."""
    undecided = SwapOffer.objects.filter(
        shift__harvest_day=day, state__in=(OfferState.OPEN, OfferState.LAPSED)
    )
    return undecided.filter(Q(offered_by=me) | Q(to=me) | Q(to__isnull=True, state=OfferState.OPEN))


def shifts_to_do(day: HarvestDay, user: User, at: datetime) -> QuerySet[Shift]:
    """What a person is still to do on a day, the first to begin first."""
    mine = Shift.objects.filter(harvest_day=day, user=user, cancelled_at__isnull=True, ends_at__gt=at)
    return mine.order_by("starts_at", "pk")


def shifts_of(user: User, after: datetime) -> QuerySet[Shift]:
    """A person's standing shifts that end after this time."""
    mine = Shift.objects.filter(user=user, cancelled_at__isnull=True, ends_at__gt=after)
    return mine.select_related("harvest_day__kitchen", "load")
