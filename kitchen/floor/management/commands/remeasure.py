"""``python -m kitchen remeasure``: note the measured times of loads that finished before they were noted."""

from __future__ import annotations

from django.core.management.base import BaseCommand

from kitchen.floor.actions import measure_load
from kitchen.floor.queries import finished_loads


class Command(BaseCommand):
    help = (
        "Read the times of every finished load off its process record again. Done twice it changes nothing."
    )

    def handle(self, *args: object, **options: object) -> None:
        loads = [measure_load(load=load) for load in finished_loads()]
        self.stdout.write(f"{len(loads)} finished loads, {sum(loads)} of them measured")
