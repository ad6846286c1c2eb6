"""Prints a published harvest day, and what the judge says of it."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import date
from typing import Any  # Django passes options as it parsed them.

from django.core.management.base import BaseCommand, CommandError

from kitchen.planning.day_text import day_lines
from kitchen.planning.models import HarvestDay
from kitchen.planning.queries import published_job
from kitchen.planning.verdict import violations


class Command(BaseCommand):
    help = "Print a published harvest day and judge it; the exit status is 1 when it breaks a rule."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--kitchen", help="the kitchen's short name; else any kitchen")
        parser.add_argument("--date", type=date.fromisoformat, help="the day; else the last one published")

    def handle(self, *args: Any, **options: Any) -> None:
        days = HarvestDay.objects.filter(plan_jobs__published_at__isnull=False).order_by("-date")
        if options["kitchen"]:
            days = days.filter(kitchen__slug=options["kitchen"])
        if options["date"]:
            days = days.filter(date=options["date"])
        day = days.select_related("kitchen").first()
        job = published_job(day) if day else None
        if day is None or job is None:
            raise CommandError("No such harvest day is published.")
        for line in day_lines(day, job):
            self.stdout.write(line)
        broken = violations(job)
        for violation in broken:
            self.stdout.write(f"BROKEN  {violation}")
        if broken:
            raise CommandError(f"The judge found {len(broken)} broken rules.")
        self.stdout.write("The judge found no broken rule.")
