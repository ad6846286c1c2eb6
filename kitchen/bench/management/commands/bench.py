"""The front door of the benches: ``bench pages``, ``api``, ``reminders``, ``feed`` and ``sizes``."""

from __future__ import annotations

from typing import Any  # Django passes options as it parsed them.

from django.core.management.base import BaseCommand, CommandParser

from kitchen.bench.management.commands.bench_api import Command as BenchApi
from kitchen.bench.management.commands.bench_feed import Command as BenchFeed
from kitchen.bench.management.commands.bench_pages import Command as BenchPages
from kitchen.bench.management.commands.bench_reminders import Command as BenchReminders
from kitchen.bench.management.commands.bench_sizes import Command as BenchSizes

_BENCHES: dict[str, type[BaseCommand]] = {
    "api": BenchApi,
    "pages": BenchPages,
    "reminders": BenchReminders,
    "feed": BenchFeed,
    "sizes": BenchSizes,
}


class Command(BaseCommand):
    help = (
        "Measure the kitchen's pages, the API's lists, how fast reminders leave, how a feed is written, or what a "
        "kitchen costs; each has options of its own."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        benches = parser.add_subparsers(dest="what", required=True)
        for name, bench in _BENCHES.items():
            own: CommandParser = benches.add_parser(name, help=bench.help, description=bench.help)
            bench().add_arguments(own)

    def handle(self, *args: Any, **options: Any) -> None:
        bench = _BENCHES[options["what"]]()
        bench.stdout = self.stdout
        bench.handle(*args, **options)
