"""Jars on the shelf that are soon past their best: their member is told, once a month, which to use first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.db import transaction
from django.urls import reverse

from kitchen.labels.queries import Lot, processed_between
from kitchen.labels.words import best_by_of
from kitchen.members.models import Kitchen, User
from kitchen.members.queries import members_of
from kitchen.reminders.models import Kind, Reminder
from kitchen.reminders.planned import Planned, office_hour, remind

AHEAD = timedelta(days=40)
"""So long before its best-by date a lot is named: longer than a month, so that none falls between two messages. The
program's own figure."""
_LONGEST_MONTH = timedelta(days=31)
_SHORTEST_MONTH = timedelta(days=28)


def remind_of_shelf(*, now: datetime) -> int:
    """Have members told which of their jars to use first; how many reminders that made."""
    made = 0
    for kitchen in Kitchen.objects.order_by("pk"):
        lots = _to_use_first(kitchen, now)
        if lots:
            with transaction.atomic():
                made += _remind(kitchen, lots, now)
    return made


def _remind(kitchen: Kitchen, lots: dict[User, list[tuple[date, Lot]]], now: datetime) -> int:
    about = f"shelf:{kitchen.slug}:{now.astimezone(kitchen.zone):%Y-%m}"
    told = Reminder.objects.filter(kitchen=kitchen, kind=Kind.SHELF, about=about)
    known = set(told.values_list("recipient", flat=True))
    here = set(members_of(kitchen).values_list("user", flat=True))
    due = office_hour(kitchen, now)
    wanted = {
        member: _planned(kitchen, mine, due)
        for member, mine in lots.items()
        if member.pk in here and member.pk not in known
    }
    return remind(kitchen=kitchen, kind=Kind.SHELF, about=about, wanted=wanted, now=now, withdraw=False)


def _to_use_first(kitchen: Kitchen, now: datetime) -> dict[User, list[tuple[date, Lot]]]:
    """Each member's lots with jars on hand and not on hold, by their best-by date; those past it stay out."""
    today, months = now.astimezone(kitchen.zone).date(), kitchen.best_by_months
    first = now - (months + 1) * _LONGEST_MONTH
    last = now - months * _SHORTEST_MONTH + AHEAD
    found: defaultdict[User, list[tuple[date, Lot]]] = defaultdict(list)
    for lot in processed_between(kitchen, first, last):
        until = best_by_of(lot)
        if until is not None and today <= until <= today + AHEAD:
            found[lot.member].append((until, lot))
    return found


def _planned(kitchen: Kitchen, mine: Sequence[tuple[date, Lot]], due: datetime) -> Planned:
    return Planned(
        due_at=due,
        title="Jars on your shelf to use first",
        lines=tuple(
            f"Best by {until:%A %-d %B %Y}: {lot.on_hand} of {lot.portion.batch.food_name}, lot {lot.code}"
            for until, lot in sorted(mine, key=lambda one: (one[0], one[1].code))
        ),
        path=reverse("labels:shelf", args=[kitchen.slug]),
    )
