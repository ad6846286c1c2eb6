"""What one kitchen costs a server, measured, and what many kitchens would cost, reckoned from it.

The assumptions are this module's constants; common practice, no source. Everything else is measured in the same run.
"""

from __future__ import annotations

import resource
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from time import process_time
from urllib.parse import urlsplit

from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from kitchen.bench.sites import Site, make_site
from kitchen.bench.waiting import write_waiting
from kitchen.calendars.actions import create_feed
from kitchen.calendars.models import FeedKind
from kitchen.reminders.sweeping import sweep_due

KITCHENS = (10, 1_000, 100_000)
MEMBERS = 50
REMINDERS = 500
"""So many are sent to measure one."""
PORTIONS_A_YEAR = 2_000
"""Forty harvest days of fifty batches; each portion has two reminders."""
PAGES_A_MEMBER_AND_DAY = 5
FEED_FETCHES_A_MEMBER_AND_DAY = 24
"""A calendar client that asks every hour."""
BUSIEST = 4
"""On a harvest Saturday, in its busiest hour, so many times what an even day of twelve hours would have."""
BUSY_SHARE = 0.5
"""How much of a processor may be in use in the busiest hour."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Constants:
    """What was measured. Bytes are of the database, for a portion with its reminders and all that belongs to it."""

    page_ms: float
    feed_ms: float
    reminder_ms: float
    bytes_a_portion: float
    process_mb: float

    def lines(self) -> Iterator[str]:
        """Each with its unit."""
        yield f"a member's start page: {self.page_ms:.0f} ms of a processor"
        yield f"a member's feed: {self.feed_ms:.0f} ms of a processor"
        yield f"a reminder, claimed, sent to nowhere and noted: {self.reminder_ms:.1f} ms of a processor"
        yield f"a portion with its reminder, notice and audit line in the database: {self.bytes_a_portion:.0f} bytes"
        yield f"a process with the whole program in it: {self.process_mb:.0f} MB"


def measure(rounds: int, client: Client) -> Constants:
    """All constants, in the database at hand, which should be the bench's own."""
    now = timezone.now()
    site = make_site(0, members=MEMBERS, today=now.date())
    before = _database_bytes()
    write_waiting(site, [now - timedelta(minutes=1)] * REMINDERS)
    began = process_time()
    sent = sweep_due().sent
    reminder_ms = (process_time() - began) * 1000 / sent
    grown = _database_bytes() - before
    return Constants(
        page_ms=_page(site, client, rounds),
        feed_ms=_feed(site, client, rounds),
        reminder_ms=reminder_ms,
        bytes_a_portion=grown / REMINDERS,
        process_mb=resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    )


def table(found: Constants) -> Iterator[str]:
    """One line for each number of kitchens."""
    heads = (
        "Kitchens",
        "Pages, feeds a second",
        "Web processes",
        "Reminders a second",
        "Workers",
        "Memory",
        "A year",
    )
    yield f"| {' | '.join(heads)} |"
    yield "| --- | --- | --- | --- | --- | --- | --- |"
    for kitchens in KITCHENS:
        people = kitchens * MEMBERS
        pages = BUSIEST * people * PAGES_A_MEMBER_AND_DAY / (12 * 3600)
        feeds = people * FEED_FETCHES_A_MEMBER_AND_DAY / (24 * 3600)
        # A year's reminders on its forty days, within the hour.
        reminders = kitchens * 2 * PORTIONS_A_YEAR / 40 / 3600
        web = _processes(pages * found.page_ms + feeds * found.feed_ms)
        workers = _processes(reminders * found.reminder_ms)
        memory = (web + workers + 2) * found.process_mb / 1024
        disk = kitchens * PORTIONS_A_YEAR * found.bytes_a_portion / 1e9
        yield (
            f"| {kitchens:,} | {pages + feeds:,.1f} | {web:,} | {reminders:,.2f} | {workers:,} "
            f"| {memory:,.1f} GB | {disk:,.2f} GB |"
        )


def _processes(busy_ms_a_second: float) -> int:
    """Never fewer than two, so that one may be stopped."""
    return max(2, -(-int(busy_ms_a_second) // int(1000 * BUSY_SHARE)))


def _page(site: Site, client: Client, rounds: int) -> float:
    client.force_login(site.members[0])
    path = reverse("home:kitchen", args=[site.kitchen.slug])
    return _milliseconds(lambda: client.get(path), rounds)


def _feed(site: Site, client: Client, rounds: int) -> float:
    feed = create_feed(user=site.members[0], kitchen=site.kitchen, kind=FeedKind.MEMBER)
    path = urlsplit(feed.address).path
    return _milliseconds(lambda: client.get(path), rounds)


def _milliseconds(work: Callable[[], object], rounds: int) -> float:
    work()
    began = process_time()
    for _ in range(rounds):
        work()
    return (process_time() - began) * 1000 / rounds


def _database_bytes() -> int:
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT pg_database_size(current_database())")
            size: int = cursor.fetchone()[0]
            return size
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return Path(str(connection.settings_dict["NAME"])).stat().st_size
