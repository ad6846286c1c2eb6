"""Measures the API's lists."""

from __future__ import annotations

from argparse import ArgumentParser
from time import perf_counter
from typing import Any  # Django passes options as it parsed them.

from django.core.management.base import BaseCommand, CommandError
from django.db.models import Count
from django.test import override_settings

from kitchen.api.measuring import measure
from kitchen.members.models import Kitchen

_FEWEST = 2


class Command(BaseCommand):
    help = "Measure the API's lists, and tell each time as a multiple of a view that does nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--kitchen", help="the kitchen's short name; else the one with most loads")
        parser.add_argument("--rounds", type=int, default=40, help="requests to each list; 40")

    def handle(self, *args: Any, **options: Any) -> None:
        kitchens = Kitchen.objects.annotate(loads=Count("harvest_days__loads")).order_by("-loads", "pk")
        if options["kitchen"]:
            kitchens = kitchens.filter(slug=options["kitchen"])
        kitchen = kitchens.first()
        if kitchen is None:
            raise CommandError("No such kitchen is here.")
        if options["rounds"] < _FEWEST:
            raise CommandError(f"Measure at least {_FEWEST} rounds.")
        with override_settings(API_PER_MINUTE=10**9):
            measured = list(measure(kitchen, options["rounds"], perf_counter))
        bare = measured[0]
        self.stdout.write(f"{kitchen}, {options['rounds']} rounds; a view that does nothing: {bare.address}")
        self.stdout.write("   rows   half ms    p95 ms   p95 / bare p95")
        for one in measured:
            ratio = one.p95_ms / bare.p95_ms
            name = one.address.partition("?")[0].rpartition("/")[2]
            self.stdout.write(f"{one.rows:7} {one.half_ms:9.1f} {one.p95_ms:9.1f} {ratio:10.1f}   {name}")
