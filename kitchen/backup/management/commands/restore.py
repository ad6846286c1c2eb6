"""``python -m kitchen restore FILE``: back to what a backup holds."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any  # Django passes options as it parsed them.

from django.core.management.base import BaseCommand

from kitchen.backup.actions import restore


class Command(BaseCommand):
    help = "Put a backup in the place of the kitchen's database. Everything else must be stopped."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="what `backup` wrote")
        parser.add_argument(
            "--replace", action="store_true", help="overwrite a database in which kitchens stand"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        restored = restore(options["file"], replace=options["replace"])
        manifest = restored.manifest
        then = f"{manifest.made_at:%Y-%m-%d %H:%M} UTC"
        self.stdout.write(
            f"{manifest.rows} rows in {len(manifest.tables)} tables are as they were at {then}."
        )
        self.stdout.write(
            "Reminders that were sent since then go out once more, with the same Message-ID.\n"
            "Signing in and calendar addresses work as before."
        )
        if not restored.same_key:
            self.stdout.write(
                "The secret key is another than then: everybody signs in again, and links in e-mails "
                "sent before open no longer. Put the old key back to change that."
            )
