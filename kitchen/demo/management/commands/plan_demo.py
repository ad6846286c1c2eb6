"""Plans and publishes the demo's next harvest day, unless that was done."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any  # Django passes options as it parsed them.

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from kitchen.demo.actions import PLAN_SECONDS, demo_folder, plan_demo
from kitchen.demo.fixtures import read_kitchen
from kitchen.members.models import Kitchen


class Command(BaseCommand):
    help = "Plan and publish the demo's next harvest day in this process."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seconds", type=int, default=PLAN_SECONDS, help="the planner's effort")

    def handle(self, *args: Any, **options: Any) -> None:
        slug = read_kitchen(demo_folder()).kitchen.slug
        kitchen = Kitchen.objects.filter(slug=slug).first()
        if kitchen is None:
            raise CommandError("The demo is not loaded. Run load_demo first.")
        today = timezone.now().astimezone(kitchen.zone).date()
        day = plan_demo(kitchen=kitchen, today=today, seconds=options["seconds"])
        self.stdout.write(f"{day} is published." if day else f"{kitchen} has no harvest day to come.")
