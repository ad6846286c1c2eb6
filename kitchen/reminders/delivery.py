"""Handing a message to the mail server."""

from __future__ import annotations

import smtplib

from django.core.mail import EmailMultiAlternatives

from kitchen.errors import NotDelivered
from kitchen.reminders.message import Message


def deliver(message: Message) -> None:
    """Send it, or raise ``NotDelivered`` with the reason. It may take long: never call it in a transaction.

    A bad address or header is a failure like any other: it must not keep the sweep from the next reminder.
    """
    mail = EmailMultiAlternatives(
        subject=message.subject,
        body=message.text,
        to=[message.to],
        # RFC 3834: no out-of-office answer, please.
        headers={"Message-ID": message.message_id, "Auto-Submitted": "auto-generated"},
    )
    mail.attach_alternative(message.html, "text/html")
    try:
        mail.send()
    except (smtplib.SMTPException, OSError, ValueError) as error:
        raise NotDelivered(
            f"{type(error).__name__}: {error}",
            remedy="The sweep tries again; look at the mail server if it stays so.",
        ) from error
