"""A process that sweeps until nothing is due; with ``--without-claims`` it sends whatever it read."""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import sleep
from unittest.mock import patch
from uuid import UUID, uuid4

import django

LEASE_SECONDS = 5
START_LINE = "KITCHEN_TEST_START_LINE"


def main(arguments: list[str]) -> None:
    """Wait for the others at the start line, then sweep until every reminder whose time has come is sent."""
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.drills.process_settings"
    django.setup()
    from kitchen.reminders import actions, claims, queries  # noqa: PLC0415  (after the set-up)

    patch.object(
        claims, "LEASE", timedelta(seconds=LEASE_SECONDS)
    ).start()  # A drill cannot wait for minutes.
    if arguments == ["--without-claims"]:
        patch.object(actions, "claim", claim_without_asking).start()
    wait_at_start_line(Path(os.environ[START_LINE]))
    while queries.overdue(datetime.now(UTC)).exists():
        actions.sweep_due()
        sleep(0.02)  # What is left is another's for now.


def wait_at_start_line(folder: Path) -> None:
    """Say that this process is ready, and wait until all are."""
    (folder / str(os.getpid())).touch()
    while not (folder / "go").exists():
        sleep(0.005)  # Another process lays the file.


def claim_without_asking(reminder_id: UUID, *, now: datetime, held_from: datetime | None) -> object:
    """What a sweep would do that trusts what it read: take the row whatever has become of it."""
    from kitchen.reminders.claims import Claim  # noqa: PLC0415  (after the set-up)
    from kitchen.reminders.models import Reminder, State  # noqa: PLC0415

    token = uuid4()
    row = Reminder.objects.filter(pk=reminder_id).exclude(state=State.DONE)
    row.update(state=State.SENDING, claim_token=token, lease_until=now + timedelta(seconds=LEASE_SECONDS))
    return Claim(reminder=Reminder.objects.get(pk=reminder_id), token=token)


if __name__ == "__main__":
    main(sys.argv[1:])
