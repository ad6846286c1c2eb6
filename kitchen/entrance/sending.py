"""The message with a code."""

from __future__ import annotations

from datetime import datetime
from smtplib import SMTPException

import structlog
from django.core.mail import EmailMessage
from django.utils.translation import gettext

from kitchen.entrance.codes import Letter, forget_codes, make_due_code
from kitchen.entrance.rules import HOLDS, as_written
from kitchen.language.person import written_for

log = structlog.get_logger(__name__)


def send_codes(*, now: datetime) -> int:
    """Send every code that waits; how many messages the server took. Safe to run twice, late, or many at once."""
    sent = 0
    while letter := make_due_code(now=now):
        try:
            mail_of(letter).send()
        except (OSError, SMTPException) as error:
            log.warning("code_not_sent", user=letter.user.pk, reason=type(error).__name__)
        else:
            sent += 1
    forget_codes(now=now)
    return sent


def mail_of(letter: Letter) -> EmailMessage:
    """The message, in the person's language. Its subject, which telephones show while they are locked, has no code."""
    with written_for(letter.user.language or letter.language, letter.user.units):
        text = gettext(
            "Hello %(person)s,\n\n"
            "type this code where you asked for it, within %(minutes)s minutes:\n\n"
            "%(code)s\n\n"
            "It works once, and only in the browser that asked for it. Tell it to nobody: no one at the kitchen will "
            "ask you for it. If it was not you who asked, do nothing."
        )
        subject = gettext("Your code for signing in")
        values = {
            "person": letter.user,
            "minutes": HOLDS.seconds // 60,
            "code": as_written(letter.code),
        }
        # RFC 3834: no out-of-office answer, please.
        headers = {"Auto-Submitted": "auto-generated"}
        return EmailMessage(subject, text % values, to=[letter.user.email], headers=headers)
