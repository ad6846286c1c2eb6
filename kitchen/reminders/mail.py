"""A message as the mail server gets it.

``mail_of`` leaves the making to the mail library, for servers of any kind. ``wire_of`` writes the same message's bytes
itself: the library takes longer to make a message than a server on the same machine takes to accept it.
"""

from __future__ import annotations

import re
from email.header import Header
from email.utils import formatdate
from functools import lru_cache
from uuid import uuid4

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.core.mail.backends.base import BaseEmailBackend
from django.core.mail.message import sanitize_address

from kitchen.reminders.message import Message

_CRLF = re.compile(b"\r?\n")
_LONGEST_LINE = 998
"""RFC 5322, 2.1.1, in octets without the end of the line."""


def mail_of(message: Message, connection: BaseEmailBackend) -> EmailMultiAlternatives:
    """The message for the mail library."""
    mail = EmailMultiAlternatives(
        subject=message.subject,
        body=message.text,
        to=[message.to],
        headers=_headers(message),
        connection=connection,
    )
    mail.attach_alternative(message.html, "text/html")
    if message.calendar:
        mail.attach("shifts.ics", message.calendar.decode(), "text/calendar")
    return mail


def wire_of(message: Message) -> bytes:
    """The message as RFC 5322 and 2046 have it. ``ValueError``: a header or an address that cannot be one.

    As the library does, text goes out as it is (8bit). A message with a longer line than a server must take, and one
    with a file, are left to it.
    """
    parts = (_part("plain", message.text), _part("html", message.html))
    if parts[0] is None or parts[1] is None or message.calendar:
        return _CRLF.sub(b"\r\n", mail_of(message, BaseEmailBackend()).message().as_bytes())
    boundary = f"=={uuid4().hex}=="
    head = [
        f'Content-Type: multipart/alternative; boundary="{boundary}"',
        "MIME-Version: 1.0",
        f"Subject: {_header('Subject', message.subject)}",
        f"From: {_header('From', settings.DEFAULT_FROM_EMAIL)}",
        f"To: {_header('To', message.to)}",
        f"Date: {formatdate(localtime=settings.EMAIL_USE_LOCALTIME)}",
        *(f"{name}: {_header(name, value)}" for name, value in _headers(message).items()),
    ]
    between = f"\r\n--{boundary}\r\n".encode("ascii")
    return b"".join(
        (
            "\r\n".join(head).encode("ascii"),
            b"\r\n",
            between,
            parts[0],
            between,
            parts[1],
            f"\r\n--{boundary}--\r\n".encode("ascii"),
        )
    )


@lru_cache(maxsize=1024)
def address_of(address: str) -> str:
    """The address as the conversation with the server has it. ``ValueError`` when it is none."""
    return sanitize_address(address, settings.DEFAULT_CHARSET)


def _headers(message: Message) -> dict[str, str]:
    # RFC 3834: no out-of-office answer, please.
    headers = {"Message-ID": message.message_id, "Auto-Submitted": "auto-generated"}
    if message.unsubscribe:
        # RFC 8058: a mail program may end these with one press, without opening a page.
        headers["List-Unsubscribe"] = f"<{message.unsubscribe}>"
        headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return headers


def _header(name: str, value: str) -> str:
    """What may stand after the name: nothing may come in through the end of a line, and a subject is folded."""
    if "\n" in value or "\r" in value:
        raise ValueError(f"The header {name} would hold a newline.")
    if name == "Subject":
        charset = None if value.isascii() else settings.DEFAULT_CHARSET
        return Header(value, charset, header_name=name).encode(linesep="\r\n")
    return value if value.isascii() else address_of(value)


def _part(kind: str, text: str) -> bytes | None:
    """One way to read the message; None when a line of it is too long to go out as it is."""
    lines = text.encode().splitlines()
    if max(map(len, lines), default=0) > _LONGEST_LINE:
        return None
    bits = 7 if text.isascii() else 8
    head = (
        f'Content-Type: text/{kind}; charset="utf-8"\r\n'
        "MIME-Version: 1.0\r\n"
        f"Content-Transfer-Encoding: {bits}bit\r\n\r\n"
    )
    end = b"\r\n" if text.endswith("\n") else b""
    return head.encode("ascii") + b"\r\n".join(lines) + end
