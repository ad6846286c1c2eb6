"""``python -m kitchen sweep``: one look at everything that waits for its time, for a timer where no worker runs."""

from __future__ import annotations

from django.conf import settings
from django.core.management.base import BaseCommand

from kitchen.celery import app
from kitchen.planning.tasks import tend_jobs
from kitchen.reminders.sweeping import SWEEP_TASK, sweep_due

_NOT_HERE = {SWEEP_TASK, tend_jobs.name}
"""Reminders go first and are counted; a plan is searched for minutes and is a worker's affair."""


class Command(BaseCommand):
    help = "Send every reminder whose time has come, and say how many; then do what else is due."

    def handle(self, *args: object, **options: object) -> None:
        swept = sweep_due()
        self.stdout.write(f"{swept.sent} sent, {swept.put_off} put off, {swept.given_up} given up")
        if swept.step_seconds:
            self.stderr.write(
                f"The clock was moved by {swept.step_seconds:.0f} seconds; see the audit record."
            )
        app.loader.import_default_modules()
        for name in (str(turn["task"]) for turn in settings.CELERY_BEAT_SCHEDULE.values()):
            if name not in _NOT_HERE:
                app.tasks[name]()
