"""Reminders, news and calendars are written in their recipient's language, whoever or whatever sends them."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from django.test import Client
from icalendar import Calendar

from kitchen.calendars.actions import create_feed
from kitchen.calendars.models import FeedKind
from kitchen.reminders.message import message_of
from kitchen.reminders.models import Kind, Reminder
from kitchen.reminders.rules import due_at
from tests.factories.canner_runs import BEANS_OUT, make_beans_out
from tests.factories.sites import Site, declare, make_open_day, make_site, publish
from tests.factories.widened import widened

pytestmark = pytest.mark.django_db

PLAIN = re.compile(r"[A-Za-z]{3,}")


@pytest.fixture
def site() -> Site:
    """A kitchen whose member reads Spanish, and whose canners are called by their codes."""
    site = make_site()
    site.member.language = "es"
    site.member.save()
    for canner in site.kitchen.canners.all():
        canner.name = canner.code
        canner.save()
    return site


def plain_words(text: str, site: Site) -> set[str]:
    """The words in plain letters that are no name of this kitchen's."""
    for name in (str(site.kitchen), str(site.member), str(site.weighted), str(site.dial), str(site.operator)):
        text = text.replace(name, " ")
    text = re.sub(r"https?://\S+|[A-Z0-9]{2,4}-[A-Z]+-\d+-\w+-\d+|\(M[DS]T\)|<[^>]*>", " ", text)
    return set(PLAIN.findall(text)) - {"min", "lb"}


def test_a_seal_check_reminder_holds_no_untranslated_word(site: Site) -> None:
    run = make_beans_out(site)
    reminder = Reminder.objects.filter(kind=Kind.FIRST_CALL).select_related("recipient", "kitchen").first()
    assert reminder is not None
    with widened():
        message = message_of(reminder, now=due_at(Kind.FIRST_CALL, run.at(BEANS_OUT)))
    assert '<html lang="es">' in message.html
    assert plain_words(f"{message.subject} {message.text}", site) == set()
    assert plain_words(message.html, site) == set()


def test_news_kept_in_english_is_said_in_spanish(site: Site) -> None:
    reminder = Reminder(
        kind=Kind.ROTA,
        recipient=site.member,
        kitchen=site.kitchen,
        news={
            "title": f"{site.other} offers you a shift",
            "lines": ["The offer is taken back. The shift stays yours."],
            "path": "/",
        },
        pk="1",
    )
    message = message_of(reminder, now=datetime.now(UTC))
    assert message.subject == f"{site.other} le ofrece un turno"
    assert "La oferta se retiró. El turno sigue siendo suyo." in message.text


def test_a_feed_is_written_for_its_owner_whatever_fetches_it(site: Site) -> None:
    day = make_open_day(site)
    declare(site, day)
    publish(site, day)
    day.loads.update(state="planned")
    address = create_feed(user=site.member, kitchen=site.kitchen, kind=FeedKind.MEMBER).address
    path = "/" + address.split("/", 3)[3]
    with widened():
        told = Client().get(path, headers={"accept-language": "en"}).content
    entries = list(Calendar.from_ical(told).walk("VEVENT"))
    assert entries
    for entry in entries:
        words = f"{entry['summary']}\n{entry['description']}"
        assert plain_words(words, site) == set(), words
