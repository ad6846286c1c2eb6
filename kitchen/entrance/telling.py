"""Whoever has an account is written to when a way into it is changed, so that nobody changes it behind their back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import partial
from smtplib import SMTPException

import structlog
from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext

from kitchen.entrance.codes import SEND_TASK
from kitchen.entrance.models import AccountNews, Change
from kitchen.hints import send_hint
from kitchen.language.person import written_to
from kitchen.members.models import User

GIVEN_UP_AFTER = timedelta(days=7)
"""So long it is tried: a mail server is mended within days. Common practice, no source."""
_FIRST_WAIT, _LONGEST_WAIT = timedelta(minutes=2), timedelta(hours=4)
_AT_ONCE = 100

log = structlog.get_logger(__name__)


def tell(*, user: User, change: Change, at: datetime, passkey: str = "") -> None:
    """Have the person written to, if and only if the transaction of the change holds. ``passkey`` is its name."""
    AccountNews.objects.create(user=user, change=change, passkey=passkey, happened_at=at, next_attempt_at=at)
    transaction.on_commit(partial(send_hint, SEND_TASK), robust=True)


def send_news(*, now: datetime) -> int:
    """Send what waits; how many messages the server took. Safe to run late, or many at once.

    What the server does not take is tried again, after longer and longer waits, for a week. A worker that dies with a
    message in hand has it sent again.
    """
    waiting = AccountNews.objects.filter(next_attempt_at__lte=now).select_related("user").order_by("pk")
    return sum(_send(news, now) for news in list(waiting[:_AT_ONCE]))


def _send(news: AccountNews, now: datetime) -> bool:
    wait = min(_FIRST_WAIT * 2 ** min(news.attempts, 10), _LONGEST_WAIT)
    mine = AccountNews.objects.filter(pk=news.pk, attempts=news.attempts)
    if not mine.update(attempts=news.attempts + 1, next_attempt_at=now + wait):
        return False  # Another worker was faster.
    try:
        mail_of(news).send()
    except (OSError, SMTPException) as error:
        log.warning("account_news_not_sent", user=news.user_id, reason=type(error).__name__)
        if now - news.happened_at >= GIVEN_UP_AFTER:
            log.error("account_news_given_up", user=news.user_id, change=news.change)
            news.delete()
        return False
    news.delete()
    return True


def mail_of(news: AccountNews) -> EmailMessage:
    """The message, in the person's language. Nothing in it opens anything."""
    with written_to(news.user):
        subject, what = _words(Change(news.change))
        text = gettext(
            "Hello %(person)s,\n\n"
            "%(what)s It was on %(when)s (UTC).\n\n"
            "If it was you, there is nothing to do. If it was not, somebody else is in your account. Set another "
            "password at once, which signs everybody else out:\n\n"
            "%(forgotten)s\n\n"
            "Then remove every passkey that is not yours, and tell your kitchen's lead:\n\n"
            "%(passkeys)s"
        )
        values = {
            "person": news.user,
            "what": what % {"passkey": news.passkey},
            "when": date_format(news.happened_at.astimezone(UTC), "DATETIME_FORMAT"),
            "forgotten": settings.KITCHEN_URL + reverse("members:forgotten"),
            "passkeys": settings.KITCHEN_URL + reverse("entrance:passkeys"),
        }
        # RFC 3834: no out-of-office answer, please.
        headers = {"Auto-Submitted": "auto-generated"}
        return EmailMessage(subject, text % values, to=[news.user.email], headers=headers)


def _words(change: Change) -> tuple[str, str]:
    """The subject and the first sentence."""
    if change is Change.PASSWORD:
        return gettext("Your password was changed"), gettext("The password of your account was changed.")
    if change is Change.PASSKEY_ADDED:
        return (
            gettext("A passkey was added to your account"),
            gettext("The passkey %(passkey)s was added to your account, and lets in whoever has it."),
        )
    return (
        gettext("A passkey was removed from your account"),
        gettext(
            "The passkey %(passkey)s was removed from your account, and opens nothing any more. Whoever leaves their "
            "last kitchen here keeps none."
        ),
    )
