"""Measures how long a feed takes from its database rows' words to its bytes, beside the library's plain use."""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Callable
from time import perf_counter
from typing import Any  # Django passes options as it parsed them.

from django.core.management.base import BaseCommand, CommandError

from kitchen.bench.bridge import made_up_agenda, plain_calendar, written_agenda
from kitchen.bench.measuring import percentile

MOST_RATIO = 1.5


class Command(BaseCommand):
    help = (
        "Write a made-up calendar as the kitchen's feeds are written, and the same entries as icalendar writes them by "
        "itself, in turn; print the time of the one as a multiple of the other. No database is used."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--events", type=int, default=5_000, help="entries of the calendar (5000)")
        parser.add_argument("--times", type=int, default=5, help="how often each is written (5)")

    def handle(self, *args: Any, **options: Any) -> None:
        if min(options["events"], options["times"]) < 1:
            raise CommandError("Ask for at least one of each.")
        agenda = made_up_agenda(options["events"])
        ours, plain = [], []
        for _ in range(options["times"]):
            ours.append(_milliseconds(lambda: written_agenda(agenda)))
            plain.append(_milliseconds(lambda: plain_calendar(agenda)))
        middle, beside = percentile(ours, 50), percentile(plain, 50)
        self.stdout.write(
            f"{options['events']:,} entries: {middle:.0f} ms, icalendar by itself {beside:.0f} ms, "
            f"ratio {middle / beside:.2f}; the bar is {MOST_RATIO}."
        )


def _milliseconds(write: Callable[[], bytes]) -> float:
    began = perf_counter()
    write()
    return (perf_counter() - began) * 1000
