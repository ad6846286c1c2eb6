"""Loads the demo kitchen, once, and prints how to sign in."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import date
from typing import Any  # Django passes options as it parsed them.

from django.core.management.base import BaseCommand
from django.utils import timezone

from kitchen.demo.actions import load_demo


class Command(BaseCommand):
    help = "Load the demo kitchen. A kitchen loaded before is left as it is."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--date", type=date.fromisoformat, help="the harvest day, as 2026-09-12; else the next Saturday"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        demo = load_demo(now=timezone.now(), day=options["date"])
        state = "is loaded" if demo.fresh else "was loaded before"
        self.stdout.write(f"The demo, {demo.kitchen}, {state}.")
        lead, operator, member = demo.emails[0], demo.emails[1], demo.emails[4]
        self.stdout.write(f"Sign in as {lead}, {operator} or {member} with the password {demo.password}")
