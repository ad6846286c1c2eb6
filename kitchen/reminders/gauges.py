"""Dial gauges whose year is nearly over (rule S8): the leads are told a month ahead, and again a week ahead.

Looked for again and again, because leads, canners and checks change; each is told once.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from django.db import transaction
from django.urls import reverse

from kitchen.audit.actions import record
from kitchen.equipment.models import Canner, CannerKind
from kitchen.equipment.queries import newest_check
from kitchen.members.models import Kitchen, User
from kitchen.members.queries import leads_of
from kitchen.reminders.bridge import a_year_after
from kitchen.reminders.claims import cancel
from kitchen.reminders.models import Kind, Reminder, State
from kitchen.reminders.planned import Planned, office_hour, remind

AHEAD = (timedelta(days=7), timedelta(days=30))
"""So long before its last day somebody is told, the last time first: a gauge is sent away for its check. The program's
own figures.
"""


def remind_of_gauges(*, now: datetime) -> int:
    """Have the leads told of gauges that are due, and withdraw what a new check has settled; how many changed."""
    changed = 0
    by_kitchen: defaultdict[Kitchen, list[Canner]] = defaultdict(list)
    dials = Canner.objects.filter(kind=CannerKind.DIAL).select_related("kitchen")
    for canner in dials.prefetch_related("gauge_checks").order_by("kitchen", "pk"):
        by_kitchen[canner.kitchen].append(canner)
    for kitchen, canners in by_kitchen.items():
        with transaction.atomic():
            changed += _remind(kitchen, canners, now)
    return changed


def _remind(kitchen: Kitchen, canners: list[Canner], now: datetime) -> int:
    today = now.astimezone(kitchen.zone).date()
    due = dict(_due(canners, today))
    waiting = Reminder.objects.filter(kitchen=kitchen, kind=Kind.GAUGE, state=State.DUE).exclude(
        about__in=due
    )
    changed = cancel(list(waiting.values_list("pk", flat=True)), now=now)
    if changed:
        after = {"kind": Kind.GAUGE, "withdrawn": changed}
        record(actor=None, kitchen=kitchen, action="plan_reminders", subject=kitchen, after=after)
    leads: list[User] = [one.user for one in leads_of(kitchen)] if due else []
    for about, (canner, last) in due.items():
        known = set(
            Reminder.objects.filter(kitchen=kitchen, kind=Kind.GAUGE, about=about)
            .exclude(state=State.CANCELLED)
            .values_list("recipient", flat=True)
        )
        planned = _planned(kitchen, canner, last, now)
        changed += remind(
            kitchen=kitchen,
            kind=Kind.GAUGE,
            about=about,
            wanted={lead: planned for lead in leads if lead.pk not in known},
            now=now,
            withdraw=False,
        )
    return changed


def _due(canners: list[Canner], today: date) -> Iterator[tuple[str, tuple[Canner, date]]]:
    """What is to be told today: of each gauge the last thing that its time has come for."""
    for canner in canners:
        check = newest_check(canner, today)
        if check is None or canner.out_of_service_reason:
            continue  # Never checked: the page on what is missing says so, and nothing is planned on it.
        last = a_year_after(check.checked_on)
        for ahead in AHEAD:
            if last - ahead <= today <= last:
                yield f"canner:{canner.uuid}:{check.checked_on}:{ahead.days}", (canner, last)
                break


def _planned(kitchen: Kitchen, canner: Canner, last: date, now: datetime) -> Planned:
    until = f"{last:%A %-d %B %Y}"
    return Planned(
        due_at=office_hour(kitchen, now),
        title=f"Gauge check due: {canner.name}, by {until}",
        lines=(
            f"{until} is the last day on which the dial gauge of {canner.name} counts as checked (rule S8).",
            "Have it checked and write the check down. After that day this canner must not be used.",
        ),
        path=reverse("equipment:canner", args=[kitchen.slug, canner.uuid]),
    )
