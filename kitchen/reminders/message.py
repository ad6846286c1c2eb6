"""A reminder as an e-mail."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlsplit

from django.conf import settings
from django.template.loader import render_to_string

from kitchen.language.person import written_to
from kitchen.language.said import said
from kitchen.reminders.models import Reminder
from kitchen.reminders.words import NewsWords, said_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """An e-mail ready to be sent. Its id is the reminder's, so that one sent twice is known to be one."""

    message_id: str
    to: str
    subject: str
    text: str
    html: str


def message_of(reminder: Reminder, *, now: datetime) -> Message:
    """The e-mail, in its recipient's language and with what is true at ``now`` of the reprocess deadline."""
    words = said_of(reminder, now=now)
    template = "reminders/news" if isinstance(words, NewsWords) else "reminders/message"
    context = {"words": words, "kitchen": reminder.kitchen}
    with written_to(reminder.recipient):
        return Message(
            message_id=f"<reminder-{reminder.pk}@{urlsplit(settings.KITCHEN_URL).hostname}>",
            to=reminder.recipient.email,
            subject=" ".join(said(words.title).split()),
            text=render_to_string(f"{template}.txt", context),
            html=render_to_string(f"{template}.html", context),
        )
