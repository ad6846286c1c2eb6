"""Measures the API's lists."""

from __future__ import annotations

from argparse import ArgumentParser
from time import perf_counter
from typing import Any  # Django passes options as it parsed them.

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import Count
from django.test import override_settings

from kitchen.bench.lists import LISTS, SIZES, Measured, measure
from kitchen.bench.measuring import percentile
from kitchen.errors import BadConfiguration
from kitchen.members.models import Kitchen

_FEWEST = 2
MOST_RATIO = 5.0


class Command(BaseCommand):
    help = (
        "Measure the API's lists in the database at hand, at the size of page that clients get and at the largest, and "
        "tell each time as a multiple of an operation that does nothing but settle who asks, read in turn with it."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--kitchen", help="the kitchen's short name; else the one with most loads")
        parser.add_argument("--rounds", type=int, default=40, help="requests to each list; 40")

    def handle(self, *args: Any, **options: Any) -> None:
        _check_tables()
        kitchens = Kitchen.objects.annotate(loads=Count("harvest_days__loads")).order_by("-loads", "pk")
        if options["kitchen"]:
            kitchens = kitchens.filter(slug=options["kitchen"])
        kitchen = kitchens.first()
        if kitchen is None:
            raise CommandError("No such kitchen is here.")
        if options["rounds"] < _FEWEST:
            raise CommandError(f"Measure at least {_FEWEST} rounds.")
        self.stdout.write(f"{connection.vendor}, {kitchen}, {options['rounds']} rounds")
        self.stdout.write(f"{'list':<14} " + "  |  ".join(_HEAD for _ in SIZES))
        found = []
        with override_settings(API_PER_MINUTE=10**9, ROOT_URLCONF="kitchen.bench.urls"):
            for sizes in measure(kitchen, options["rounds"], perf_counter):
                self.stdout.write(f"{sizes[0].name:<14} " + "  |  ".join(map(_cells, sizes)))
                found.append(sizes)
        self._sum_up(found)

    def _sum_up(self, found: list[tuple[Measured, ...]]) -> None:
        bare = [ms for sizes in found for one in sizes for ms in one.bare_ms]
        self.stdout.write(
            f"The bare operation: {percentile(bare, 50):.1f} ms, 95 of a hundred within {percentile(bare, 95):.1f} ms."
            " /healthz, which asks nobody's name and no database, is no measure for a list."
        )
        for number, size in enumerate(SIZES):
            slowest = max((sizes[number] for sizes in found[: len(LISTS)]), key=lambda one: one.ratio)
            self.stdout.write(
                f"With pages of {size}, the largest ratio is {slowest.ratio:.1f}, of {slowest.name}; the bar is "
                f"{MOST_RATIO:.0f}" + (", for the pages that clients get." if number == 0 else ".")
            )


_HEAD = f"{'rows':>5} {'p50 ms':>8} {'p95 ms':>8} {'ratio':>6}"


def _cells(one: Measured) -> str:
    return f"{one.rows:>5} {percentile(one.ms, 50):>8.1f} {percentile(one.ms, 95):>8.1f} {one.ratio:>6.1f}"


def _check_tables() -> None:
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise BadConfiguration(
            "The database lacks tables, or holds those of another version.",
            remedy="Check KITCHEN_DATA and KITCHEN_DATABASE_URL; `python -m kitchen migrate` brings it up to date.",
        )
