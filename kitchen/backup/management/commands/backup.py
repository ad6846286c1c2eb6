"""``python -m kitchen backup FILE``: everything in the database, in one file."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any  # Django passes options as it parsed them.

from django.core.management.base import BaseCommand

from kitchen.backup.actions import back_up


class Command(BaseCommand):
    help = "Write everything in the kitchen's database to a file. The kitchen goes on meanwhile."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="where to; it must not be there yet")

    def handle(self, *args: Any, **options: Any) -> None:
        manifest = back_up(options["file"])
        self.stdout.write(
            f"{manifest.rows} rows in {len(manifest.tables)} tables of {manifest.database} are in {options['file']}."
        )
        self.stdout.write(
            "It holds people's names and addresses: keep it where only you can read it.\n"
            "The secret key is not in it. Keep that apart (KITCHEN_SECRET_KEY, or secret_key in the data folder): "
            "with another key everybody signs in again, and links in e-mails sent before open no longer."
        )
