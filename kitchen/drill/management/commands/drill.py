"""``python -m kitchen drill NAME``: a drill in a database and a folder of its own, which are thrown away."""

from __future__ import annotations

import os
import signal
import subprocess
from argparse import ArgumentParser
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType
from typing import Any  # Django passes options as it parsed them.

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from kitchen.bench.processes import Place, end_group, environment, start
from kitchen.bench.scratch import scratch_database
from kitchen.drill.registry import DRILLS
from kitchen.drill.report import Report

_INSIDE = "kitchen.bench.process_settings"
_LOG_LINES = 40


class Command(BaseCommand):
    help = (
        "Put the kitchen under fire in a database and a folder of its own; print what was counted and which promises "
        "were kept, and fail when one was not. The kitchen's own database, mail and broker are not touched."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        drills = parser.add_subparsers(dest="name", required=True)
        for drill in DRILLS.values():
            own: ArgumentParser = drills.add_parser(drill.name, help=drill.about, description=drill.about)
            here = drill.on_sqlite if connection.vendor == "sqlite" else {}
            for size, usual in {**drill.sizes, **here}.items():
                own.add_argument(f"--{size}", type=int, default=usual, help=f"({usual})")
            own.add_argument(
                "--minutes",
                type=int,
                default=drill.minutes,
                help=f"broken off after so long ({drill.minutes})",
            )

    def handle(self, *args: Any, **options: Any) -> None:
        name, sizes = options["name"], {size: options[size] for size in DRILLS[options["name"]].sizes}
        if min([options["minutes"], *sizes.values()]) < 1:
            raise CommandError("Ask for at least one of each.")
        if settings.SETTINGS_MODULE == _INSIDE:
            self._drill(name, sizes, options["minutes"])
        else:
            self._drill_apart(name, sizes, options["minutes"])

    def _drill_apart(self, name: str, sizes: dict[str, int], minutes: int) -> None:
        """The drill in a process whose settings know its own database, mail and broker alone."""
        words = [
            word for size, many in {**sizes, "minutes": minutes}.items() for word in (f"--{size}", str(many))
        ]
        with TemporaryDirectory(prefix="kitchen-drill-") as folder, scratch_database() as database:
            connection.close()
            process = start(environment(Path(folder), database), "-m", "kitchen", "drill", name, *words)
            try:
                status = process.wait()
            finally:
                end_group(process)
        if status:
            raise CommandError(f"The drill {name} failed.", returncode=status)

    def _drill(self, name: str, sizes: dict[str, int], minutes: int) -> None:
        report, place = Report(tell=self._tell), Place(folder=Path(os.environ["KITCHEN_DATA"]))
        signal.signal(signal.SIGALRM, _too_long)
        signal.alarm(minutes * 60)
        try:
            DRILLS[name].run(sizes, place, report)
        except (TimeoutError, subprocess.CalledProcessError) as error:
            self._show_log(place)
            raise CommandError(f"Broken off: {error}") from error
        finally:
            signal.alarm(0)
        if report.broken:
            raise CommandError(f"Broken: {'; '.join(report.broken)}.")

    def _show_log(self, place: Place) -> None:
        """The folder is thrown away, so the end of what the workers said is shown."""
        if place.log.exists():
            lines = place.log.read_text(encoding="utf-8", errors="replace").splitlines()
            self.stderr.write("\n".join(lines[-_LOG_LINES:]))

    def _tell(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()


def _too_long(number: int, frame: FrameType | None) -> None:
    raise TimeoutError("it took longer than it may.")
