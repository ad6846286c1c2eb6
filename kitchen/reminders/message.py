"""A reminder as an e-mail."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime
from urllib.parse import urlsplit

from django.conf import settings

from kitchen.language.person import written_to
from kitchen.language.said import said
from kitchen.language.stencil import Values, filled
from kitchen.reminders.bridge import calendar_of
from kitchen.reminders.models import Reminder
from kitchen.reminders.words import NewsWords, Words, said_of

_AS_IT_IS = {"link", "path", "choices", "unsubscribe"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """An e-mail ready to be sent. Its id is the reminder's, so that one sent twice is known to be one.

    ``unsubscribe`` is the address that ends such messages, and empty where they cannot be ended. ``calendar`` is a file
    for the reader's calendar, empty when there is nothing to put into it.
    """

    message_id: str
    to: str
    subject: str
    text: str
    html: str
    unsubscribe: str = ""
    calendar: bytes = b""


def message_of(reminder: Reminder, *, now: datetime) -> Message:
    """The e-mail, in its recipient's language and with what is true at ``now`` of the reprocess deadline."""
    words = said_of(reminder, now=now)
    template = "reminders/news" if isinstance(words, NewsWords) else "reminders/message"
    with written_to(reminder.recipient):
        values = {**_said(words), "kitchen": reminder.kitchen.name}
        return Message(
            message_id=f"<reminder-{reminder.pk}@{urlsplit(settings.KITCHEN_URL).hostname}>",
            to=reminder.recipient.email,
            subject=" ".join(said(words.title).split()),
            text=filled(f"{template}.txt", values),
            html=filled(f"{template}.html", values),
            unsubscribe=words.unsubscribe if isinstance(words, NewsWords) else "",
            calendar=_calendar(reminder),
        )


def _calendar(reminder: Reminder) -> bytes:
    entries = reminder.news.get("entries")
    if not entries:
        return b""
    return calendar_of(
        said("My shifts"),
        [entry | {name: said(entry[name]) for name in ("summary", "description")} for entry in entries],
    )


def _said(words: Words | NewsWords) -> Values:
    return {
        name: value
        if name in _AS_IT_IS
        else said(value)
        if isinstance(value, str)
        else tuple(map(said, value))
        for name, value in asdict(words).items()
    }
