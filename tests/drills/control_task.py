"""The way that reminders do not take: a task that waits in the broker until its time."""

from __future__ import annotations

from pathlib import Path

from celery import shared_task


@shared_task(name="tests.drills.control_task.note", acks_late=True)
def note(file: str) -> None:
    """Leave a line to show that the task ran."""
    with Path(file).open("ab", buffering=0) as lines:
        lines.write(b"ran\n")
