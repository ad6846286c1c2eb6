"""A person's notices, worded for now and written once while they say the same."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.utils.safestring import SafeString

from kitchen.language.pieces import kept_forms
from kitchen.members.models import Kitchen
from kitchen.reminders.models import Notice
from kitchen.reminders.words import NewsWords, Words, said_of


def notices_piece(
    secret: str, kitchen: Kitchen, notices: Iterable[Notice], now: datetime
) -> SafeString | None:
    """The notices in their order; None when there are none. ``secret`` is that of the reader's forms."""
    rows = [(notice, said_of(notice.reminder, now=now)) for notice in notices]
    facts = [
        (notice.pk, notice.created_at, notice.seen_at is None, *_facts(notice, words))
        for notice, words in rows
    ]
    shown = {"kitchen": kitchen, "rows": rows}
    whole = (kitchen.slug, facts)
    return kept_forms(secret, "home/notice_list.html", whole, lambda: shown, kitchen.zone) if rows else None


def _facts(notice: Notice, words: Words | NewsWords) -> tuple[object, ...]:
    """What is shown of the words: not the links of the message, which are signed anew each time."""
    if isinstance(words, NewsWords):
        return words.title, words.lines, words.path, words.link_words
    portion = notice.reminder.portion
    return (
        words.title,
        words.timing,
        words.hold,
        words.bands_off,
        words.tests,
        words.unsealed,
        portion and portion.uuid,
    )
