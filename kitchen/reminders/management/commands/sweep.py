"""``python -m kitchen sweep``: one look at what is to be sent, for a timer where no worker runs."""

from __future__ import annotations

from django.core.management.base import BaseCommand
from django.utils import timezone

from kitchen.entrance.sending import send_codes
from kitchen.reminders.sweeping import sweep_due


class Command(BaseCommand):
    help = "Send every code that was asked for and every reminder whose time has come, and say how many reminders."

    def handle(self, *args: object, **options: object) -> None:
        send_codes(now=timezone.now())
        swept = sweep_due()
        self.stdout.write(f"{swept.sent} sent, {swept.put_off} put off, {swept.given_up} given up")
        if swept.step_seconds:
            self.stderr.write(
                f"The clock was moved by {swept.step_seconds:.0f} seconds; see the audit record."
            )
