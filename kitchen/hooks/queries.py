"""Reads: which addresses stand, what they are still to be told, and how it went."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db.models import Q, QuerySet

from kitchen.hooks.models import Hook, Telling
from kitchen.members.models import Kitchen
from kitchen.reminders.models import OF_JARS, Reminder, State

STALE = timedelta(days=7)
"""What is older is told to no program any more: people were told, and have long done what had to be done."""


def hooks_of(kitchen: Kitchen) -> QuerySet[Hook]:
    """The addresses that stand."""
    return Hook.objects.filter(kitchen=kitchen, ended_at__isnull=True).select_related("kitchen", "made_by")


def tellings_of(kitchen: Kitchen) -> QuerySet[Telling]:
    """What the standing addresses were told, the newest first."""
    told = Telling.objects.filter(hook__in=hooks_of(kitchen).order_by())
    return told.select_related("hook__kitchen", "reminder__portion__load").order_by("-created_at", "id")


def untold(hook: Hook, now: datetime) -> QuerySet[Reminder]:
    """Reminders about jars that people were told of since the address was given, and this one was not.

    A reminder has a notice from the moment at which sending it was first tried; so a cancelled one, and one that only a
    step of the clock made due, is told here no sooner than anywhere else.
    """
    since = max(hook.created_at, now - STALE)
    noticed = Reminder.objects.filter(
        kitchen=hook.kitchen_id, kind__in=OF_JARS, notice__created_at__gte=since
    )
    return noticed.exclude(tellings__hook=hook).order_by("due_at", "id")


def claimable(now: datetime) -> QuerySet[Telling]:
    """What may be sent: due, or left behind by a sweep whose lease ran out.

    All of it stands in the row itself, so that an update of it is a compare-and-swap.
    """
    due = Q(state=State.DUE, next_attempt_at__lte=now)
    left_behind = Q(state=State.SENDING, lease_until__lte=now)
    return Telling.objects.filter(due | left_behind)
