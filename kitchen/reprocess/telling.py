"""News of jars that are processed again, through the queue of reminders."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.urls import reverse

from kitchen.members.models import User
from kitchen.members.pages import shown_time
from kitchen.members.queries import leads_of
from kitchen.planning.models import Load
from kitchen.reminders.actions import tell
from kitchen.reminders.models import Kind
from kitchen.reprocess.models import ReprocessBooking
from kitchen.reprocess.rules import deadline_of, process_starts


def tell_watcher(booked: ReprocessBooking, watcher: User, comes_at: datetime, *, at: datetime) -> None:
    """A trained person hears that a member counts on them at the canner."""
    batch = booked.batch
    comes = shown_time(batch.kitchen, comes_at)
    lines = [
        f"{batch.jars} jars that did not seal are processed again, from {comes}.",
        f"{batch.member} has no canner training and named you: the canner is not heated without you (rule S9).",
        "If you cannot come, say so to them and to the lead at once.",
    ]
    _tell(booked, [watcher], f"{batch.member} counts on you at a canner", lines, at)


def tell_leads(booked: ReprocessBooking, loads: Sequence[Load], *, but: User, at: datetime) -> None:
    """The kitchen's leads hear what was put on a day without them; whoever did it is not told."""
    batch, lot = booked.batch, booked.offer.portion.load.lot_code
    deadline = shown_time(batch.kitchen, deadline_of(booked.offer))
    lines = [
        f"{load.canner}, {shown_time(batch.kitchen, process_starts(load))}: the process begins, load {load.lot_code}."
        for load in loads
    ]
    lines.append(f"It must begin before {deadline}, 24 hours after the end of the first process (rule S11).")
    leads = [one.user for one in leads_of(batch.kitchen) if one.user_id != but.pk]
    _tell(booked, leads, f"{batch.jars} jars of lot {lot} are processed again", lines, at)


def tell_discarded(booked: ReprocessBooking, *, at: datetime) -> None:
    """Leads and the jars' member hear that a second process fell away: its jars were thrown out."""
    batch, lot = booked.batch, booked.offer.portion.load.lot_code
    lines = [
        f"{batch.jars} jars of lot {lot} were thrown out, so they are not processed again.",
        "Look at the run sheet before the next load: what it was to hold has changed.",
    ]
    people = [*(one.user for one in leads_of(batch.kitchen)), batch.member]
    _tell(booked, people, f"Jars of lot {lot} are not processed again", lines, at)


def _tell(booked: ReprocessBooking, to: list[User], title: str, lines: list[str], at: datetime) -> None:
    batch = booked.batch
    path = reverse("home:kitchen", args=[batch.kitchen.slug])
    if batch.harvest_day is not None:
        path = reverse("harvest:day", args=[batch.kitchen.slug, batch.harvest_day.uuid])
    tell(kitchen=batch.kitchen, to=to, title=title, lines=lines, path=path, at=at, kind=Kind.SAFETY)
