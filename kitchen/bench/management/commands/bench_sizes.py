"""``python -m kitchen bench sizes``: what a kitchen costs a server, and what many would."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any  # Django passes options as it parsed them.

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.test import Client, override_settings

from kitchen.bench.measuring import HOST
from kitchen.bench.scratch import scratch_database
from kitchen.bench.sizes import measure, table

_STATIC = {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}


class Command(BaseCommand):
    help = "Measure what pages, feeds, reminders and rows cost, and reckon what so many kitchens need."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--rounds", type=int, default=100, help="readings of each page (100)")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["rounds"] < 1:
            raise CommandError("Ask for at least one reading.")
        nowhere = "django.core.mail.backends.dummy.EmailBackend"
        with (
            override_settings(ALLOWED_HOSTS=[HOST], EMAIL_BACKEND=nowhere, STORAGES=_STATIC),
            scratch_database(),
        ):
            found = measure(options["rounds"], Client(headers={"host": HOST}))
        for line in (connection.vendor, *found.lines(), "", *table(found)):
            self.stdout.write(line)
