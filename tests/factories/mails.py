"""A mail server that cannot be reached."""

from __future__ import annotations

from collections.abc import Sequence

from django.core.mail.backends.base import BaseEmailBackend
from django.core.mail.message import EmailMessage


class Unreachable(BaseEmailBackend):
    """Refuses every message as a server that is down does."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        """Fail like a socket that nobody answers."""
        raise ConnectionRefusedError
