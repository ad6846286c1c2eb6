"""``python -m kitchen sweep``: one look at the queue of reminders, for a timer where no worker runs."""

from __future__ import annotations

from django.core.management.base import BaseCommand

from kitchen.reminders.sweeping import sweep_due


class Command(BaseCommand):
    help = "Send every reminder whose time has come, and say how many."

    def handle(self, *args: object, **options: object) -> None:
        swept = sweep_due()
        self.stdout.write(f"{swept.sent} sent, {swept.put_off} put off, {swept.given_up} given up")
        if swept.step_seconds:
            self.stderr.write(
                f"The clock was moved by {swept.step_seconds:.0f} seconds; see the audit record."
            )
