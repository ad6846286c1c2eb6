"""Mail on paper: each message is a line in a file, and the process may be shot before or after it.

Nothing leaves the machine.
"""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from pathlib import Path

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend


class Moment(StrEnum):
    """Around one message, when a process is shot: it was claimed but not sent, or sent but not noted."""

    BEFORE = "before"
    AFTER = "after"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """A message as it went out: its id and when."""

    message_id: str
    at: datetime


class _Fate:
    """At which message this process is to be shot, if at any."""

    def __init__(self) -> None:
        self.left = 0
        self.moment: Moment | None = None

    def strikes(self, moment: Moment) -> bool:
        return moment is self.moment and self.left <= 1


_fate = _Fate()


def die_at(message: int, moment: Moment) -> None:
    """From now on: this process is shot at its so many-th message, counted from 1."""
    _fate.left, _fate.moment = message, moment


class EmailBackend(BaseEmailBackend):
    """Appends one line a message in one write, so that lines of several processes never mix."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        """Never fails."""
        for message in email_messages:
            _perhaps_die(Moment.BEFORE)
            told = {
                "id": str(message.message()["Message-ID"]),
                "at": datetime.now(UTC).timestamp(),
                "pid": os.getpid(),
            }
            with Path(settings.EMAIL_FILE_PATH).open("ab", buffering=0) as file:
                file.write(f"{json.dumps(told)}\n".encode())
            _perhaps_die(Moment.AFTER)
            _fate.left -= 1
        return len(email_messages)


def sent_messages(file: Path) -> list[Sent]:
    """What is in the file, in the order in which it was sent."""
    lines = file.read_text(encoding="utf-8").splitlines() if file.exists() else []
    return [
        Sent(message_id=line["id"], at=datetime.fromtimestamp(line["at"], UTC))
        for line in map(json.loads, lines)
    ]


def sent_ids(file: Path) -> list[str]:
    """The ids of the messages in the file, in the order in which they were sent."""
    return [sent.message_id for sent in sent_messages(file)]


def _perhaps_die(moment: Moment) -> None:
    if _fate.strikes(moment):
        os.kill(os.getpid(), signal.SIGKILL)
