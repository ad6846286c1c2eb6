"""Mail for drills: each message is a line in a file, and the process may be shot before or after it."""

from __future__ import annotations

import json
import os
import random
import signal
from collections.abc import Sequence
from pathlib import Path

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

FILE = "KITCHEN_TEST_MAIL_FILE"
KILL_CHANCE = "KITCHEN_TEST_KILL_CHANCE"
_dice = random.Random()  # noqa: S311  (no secret)


class EmailBackend(BaseEmailBackend):
    """Appends one line a message in one write, so that lines of several processes never mix."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        for message in email_messages:
            _perhaps_die()
            line = json.dumps({"id": str(message.message()["Message-ID"]), "pid": os.getpid()}) + "\n"
            with Path(os.environ[FILE]).open("ab", buffering=0) as file:
                file.write(line.encode())
            _perhaps_die()
        return len(email_messages)


def sent_ids(file: Path) -> list[str]:
    """The ids of the messages in the file, in the order in which they were sent."""
    return [json.loads(line)["id"] for line in file.read_text().splitlines()] if file.exists() else []


def _perhaps_die() -> None:
    if _dice.random() < float(os.environ.get(KILL_CHANCE, "0")):
        os.kill(os.getpid(), signal.SIGKILL)
