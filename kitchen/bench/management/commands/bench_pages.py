"""Measures every page on a database full of made-up seasons."""

from __future__ import annotations

from argparse import ArgumentParser
from tempfile import TemporaryDirectory
from time import monotonic
from typing import Any  # Django passes options as it parsed them.

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection, transaction
from django.test import override_settings
from django.utils import timezone

from kitchen.bench.measuring import HOST, Measured, measure, percentile
from kitchen.bench.pages import Subject, make_subject
from kitchen.bench.scratch import scratch_database
from kitchen.bench.seasons import Amounts, fill_seasons
from kitchen.bench.sites import make_site

MEMBERS = 40
MOST_RATIO = 6.0


class Command(BaseCommand):
    help = (
        "Fill a database of its own with made-up kitchens and seasons, read every page as lead, operator and member, "
        "and print how long each takes beside an empty page. The kitchen's own database is not touched."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--kitchens", type=int, default=50, help="how many kitchens (50)")
        parser.add_argument("--batches", type=int, default=100_000, help="batches of all kitchens (100000)")
        parser.add_argument("--lines", type=int, default=1_000_000, help="lines of all records (1000000)")
        parser.add_argument("--requests", type=int, default=40, help="readings of each page (40)")

    def handle(self, *args: Any, **options: Any) -> None:
        kitchens, batches, lines = (options[name] for name in ("kitchens", "batches", "lines"))
        if min(kitchens, options["requests"]) < 1 or batches < kitchens or lines < batches:
            raise CommandError(
                "Ask for at least one kitchen, reading, batch of a kitchen and line of a batch."
            )
        with (
            TemporaryDirectory(prefix="kitchen-bench-") as static,
            override_settings(ALLOWED_HOSTS=[HOST], ROOT_URLCONF="kitchen.bench.urls", STATIC_ROOT=static),
            scratch_database(),
        ):
            call_command("collectstatic", interactive=False, verbosity=0)
            began = monotonic()
            subject = self._fill(
                kitchens, Amounts(batches=batches // kitchens, lines_of_a_load=lines // batches)
            )
            self.stdout.write(
                f"{connection.vendor}, {kitchens} kitchens, {batches // kitchens * kitchens:,} batches, "
                f"{lines // batches * (batches // kitchens) * kitchens:,} lines, "
                f"filled in {monotonic() - began:.0f} s"
            )
            self._show(subject, options["requests"])

    def _fill(self, kitchens: int, amounts: Amounts) -> Subject:
        now = timezone.now()
        sites = [make_site(number, MEMBERS, now.date()) for number in range(kitchens)]
        for site in sites[1:]:
            with transaction.atomic():
                fill_seasons(site, amounts, now.date())
        subject = make_subject(sites[0], amounts, now)
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        return subject

    def _show(self, subject: Subject, requests: int) -> None:
        self.stdout.write(
            f"{'page':<44} {'reader':<16} {'queries':>7} {'p50 ms':>8} {'p95 ms':>8} {'kB':>7} {'ratio':>6}"
        )
        found = []
        for one in measure(subject, requests):
            self.stdout.write(_line(one))
            found.append(one)
        empty = [ms for one in found for ms in one.empty_ms]
        self.stdout.write(
            f"The empty page: {percentile(empty, 50):.1f} ms, 95 of a hundred within {percentile(empty, 95):.1f} ms."
        )
        slowest = max((one for one in found if not one.document), key=lambda one: one.ratio)
        self.stdout.write(
            f"The largest ratio of a page is {slowest.ratio:.1f}, of {slowest.name} for the "
            f"{slowest.reader.label.lower()}; the bar is {MOST_RATIO:.0f}. Documents (marked *: to keep, print or "
            "subscribe to) are not held to it."
        )


def _line(one: Measured) -> str:
    return (
        f"{one.name + ' *' * one.document:<44} {one.reader.label:<16} {one.queries:>7} {percentile(one.ms, 50):>8.1f} "
        f"{percentile(one.ms, 95):>8.1f} {one.size / 1000:>7.1f} {one.ratio:>6.1f}"
    )
