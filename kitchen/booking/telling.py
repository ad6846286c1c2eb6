"""News of bookings for those concerned, through the queue of reminders."""

from __future__ import annotations

from datetime import datetime

from django.urls import reverse

from kitchen.batches.models import Slot
from kitchen.booking.models import Hold, Waiting
from kitchen.booking.queries import watchers_in
from kitchen.members.models import User
from kitchen.members.queries import leads_of
from kitchen.reminders.actions import tell
from kitchen.reminders.models import Kind


def span_words(hold: Hold) -> str:
    """A booked time in words: ``Saturday 12 September, 09:35 to 11:50, Copper Kettle``."""
    zone, time = hold.kitchen.zone, hold.canner_time
    starts, ends = time.starts_at.astimezone(zone), time.ends_at.astimezone(zone)
    return f"{starts:%A %-d %B}, {starts:%H:%M} to {ends:%H:%M}, {time.canner}"


def tell_watcher(hold: Hold, watcher: User, *, at: datetime) -> None:
    """A trained person hears that a member counts on them at the canner."""
    lines = [
        span_words(hold),
        f"{hold.member} has no canner training and named you: the canner is not heated without you (rule S9).",
        "If you cannot come, say so to them at once.",
    ]
    _tell(hold, watcher, f"{hold.member} counts on you at a canner", lines, at)


def tell_watcher_free(hold: Hold, watcher: User, *, at: datetime) -> None:
    """The trained person hears that nobody counts on them any more."""
    lines = [span_words(hold), f"{hold.member} gave this time back; there is nothing for you to do in it."]
    _tell(hold, watcher, "You are not needed at the canner", lines, at)


def tell_watcher_lost(slot: Slot, watcher: User, *, at: datetime) -> None:
    """Whoever was to watch at a member's canner is gone: the member and the leads hear of it (rule S9)."""
    kitchen, time = slot.kitchen, slot.canner_time
    starts = time.starts_at.astimezone(kitchen.zone)
    tell(
        kitchen=kitchen,
        to=list(
            dict.fromkeys([slot.member, *(lead.user for lead in leads_of(kitchen) if lead.user != watcher)])
        ),
        title=f"Nobody watches {time.canner} on {starts:%A %-d %B}",
        lines=[
            f"{slot.member} booked {time.canner} on {starts:%A %-d %B} at {starts:%H:%M}.",
            f"{watcher}, who was to watch it, has left the kitchen.",
            "Without a trained person the canner must not be heated (rule S9): ask a lead to name somebody else.",
        ],
        path=reverse("booking:page", args=[kitchen.slug]),
        at=at,
        kind=Kind.SAFETY,
    )


def tell_doubt(slot: Slot, reason: str, *, at: datetime) -> None:
    """What a booking rests on has changed: its member, who watches and the leads hear of it (rules S1, S8)."""
    kitchen, time = slot.kitchen, slot.canner_time
    starts = time.starts_at.astimezone(kitchen.zone)
    people = dict.fromkeys([slot.member, *watchers_in(slot), *(lead.user for lead in leads_of(kitchen))])
    tell(
        kitchen=kitchen,
        to=list(people),
        title=f"Look again before {starts:%A %-d %B}: {time.canner}",
        lines=[
            f"{slot.member} booked {time.canner} on {starts:%A %-d %B} at {starts:%H:%M}.",
            reason,
            "Do not heat the canner on what was shown before: book another time, or ask a lead.",
        ],
        path=reverse("booking:page", args=[kitchen.slug]),
        at=at,
        kind=Kind.SAFETY,
    )


def tell_free(waiting: Waiting, *, at: datetime) -> None:
    """A member who waited hears, once, that a time fits now. It is not held for them."""
    day = f"{waiting.day:%A %-d %B}"
    tell(
        kitchen=waiting.kitchen,
        to=[waiting.member],
        title=f"Canner time has come free on {day}",
        lines=[
            f"A time now fits your {waiting.jars} {waiting.get_jar_display().lower()} jars on {day}.",
            "It is not held for you: others who waited hear of it too, and the first to book has it.",
        ],
        path=reverse("booking:page", args=[waiting.kitchen.slug]),
        at=at,
        begins=at,  # In a digest it would be somebody else's by then.
    )


def _tell(hold: Hold, to: User, title: str, lines: list[str], at: datetime) -> None:
    path = reverse("booking:page", args=[hold.kitchen.slug])
    tell(
        kitchen=hold.kitchen,
        to=[to],
        title=title,
        lines=lines,
        path=path,
        at=at,
        begins=hold.canner_time.starts_at,
    )
