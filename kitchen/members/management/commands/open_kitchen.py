"""Sets a kitchen up with its first lead, and prints the address with which the lead begins."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any  # Django passes options as it parsed them.

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand

from kitchen.members.actions import open_kitchen
from kitchen.members.links import invitation_address
from kitchen.members.models import User


class Command(BaseCommand):
    help = "Set up a kitchen with its first lead. Everything else is done on its pages."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="the kitchen's name")
        parser.add_argument("--code", required=True, help="two to four capitals or digits, for lot codes")
        parser.add_argument("--altitude-ft", type=int, required=True, help="feet above the sea")
        parser.add_argument("--time-zone", required=True, help="such as America/Denver")
        parser.add_argument("--lead", required=True, help="the first lead's name")
        parser.add_argument("--email", required=True, help="the first lead's e-mail address")

    def handle(self, *args: Any, **options: Any) -> None:
        call_command("migrate", verbosity=0, interactive=False)  # It may come before the first ``serve``.
        kitchen, token = open_kitchen(
            name=options["name"],
            site_code=options["code"],
            altitude_ft=options["altitude_ft"],
            time_zone=options["time_zone"],
            lead_name=options["lead"],
            lead_email=options["email"],
        )
        lead = User.objects.get(email=options["email"].lower())
        self.stdout.write(f"{kitchen} is set up, at {kitchen.altitude_ft} ft.")
        if token is None:
            self.stdout.write(f"{lead} signs in at {settings.KITCHEN_URL}/ as ever.")
        else:
            self.stdout.write(f"{lead} sets a password here, within three days:")
            self.stdout.write(invitation_address(lead, token))
