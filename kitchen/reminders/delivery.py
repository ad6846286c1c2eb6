"""Handing messages to the mail server."""

from __future__ import annotations

import smtplib
from contextlib import suppress
from types import TracebackType

from django.conf import settings
from django.core.mail import get_connection
from django.core.mail.backends.smtp import EmailBackend as SmtpBackend

from kitchen.errors import NotDelivered
from kitchen.reminders.mail import address_of, mail_of, wire_of
from kitchen.reminders.message import Message

_FAILURES = (smtplib.SMTPException, OSError, ValueError)
"""What may go wrong. A bad address or header is a failure like any other: it must not keep the sweep from the next."""

_REFUSALS = (smtplib.SMTPResponseException, smtplib.SMTPRecipientsRefused)
"""The server said no to one message; the line is as good as before."""


class Post:
    """A sweep's line to the mail server, opened with the first message and kept until the sweep is over.

    A server that cannot be reached is asked once: the messages after that fail with the same reason, so that a sweep
    does not wait for it again and again.
    """

    def __init__(self) -> None:
        self._backend = get_connection()
        self._unreachable: NotDelivered | None = None
        self._sent_on_line = 0

    def __enter__(self) -> Post:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with suppress(*_FAILURES):  # Whoever was to get a message has it; a good-bye may fail.
            self._backend.close()

    def deliver(self, message: Message) -> None:
        """Send it, or raise ``NotDelivered`` with the reason. It may take long: never call it in a transaction."""
        self._reach()
        try:
            self._send(message)
        except _FAILURES as error:
            if not isinstance(error, _REFUSALS):
                self._hang_up()
            raise _not_delivered(error) from error

    def _reach(self) -> None:
        if self._unreachable is not None:
            raise self._unreachable
        if not isinstance(self._backend, SmtpBackend):
            return
        try:
            self._backend.open()
        except _FAILURES as error:
            self._unreachable = _not_delivered(error)
            raise self._unreachable from error

    def _send(self, message: Message) -> None:
        if not isinstance(self._backend, SmtpBackend):
            mail_of(message, self._backend).send()
            return
        line = self._line(self._backend)
        wire, sender, to = wire_of(message), address_of(settings.DEFAULT_FROM_EMAIL), address_of(message.to)
        try:
            line.sendmail(sender, to, wire)
        except smtplib.SMTPServerDisconnected:
            if not self._sent_on_line:
                raise
            # Many servers take only so many messages on one line, or not after a pause. The message bears the same id
            # should the server have taken it after all.
            self._hang_up()
            self._line(self._backend).sendmail(sender, to, wire)
        self._sent_on_line += 1

    @staticmethod
    def _line(backend: SmtpBackend) -> smtplib.SMTP:
        backend.open()
        line: smtplib.SMTP | None = backend.connection
        if line is None:
            raise smtplib.SMTPServerDisconnected("The line could not be opened.")
        return line

    def _hang_up(self) -> None:
        """Nobody knows what a line is worth on which something failed."""
        self._sent_on_line = 0
        if isinstance(self._backend, SmtpBackend) and self._backend.connection is not None:
            self._backend.connection.close()
            self._backend.connection = None


def _not_delivered(error: Exception) -> NotDelivered:
    return NotDelivered(
        f"{type(error).__name__}: {error}",
        remedy="The sweep tries again; look at the mail server if it stays so.",
    )
