"""News of the rota in the queue of reminders: to each person once, after the change, by e-mail and on their page."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core import mail
from django.core.mail import EmailMultiAlternatives
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from kitchen.reminders.actions import tell
from kitchen.reminders.models import Kind, Notice, Reminder, State
from kitchen.reminders.sweeping import sweep_due
from tests.factories.sites import Site, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make_site()


def told(site: Site) -> list[Reminder]:
    """News for the lead, named twice, and the member."""
    return tell(
        kitchen=site.kitchen,
        to=[site.lead, site.member, site.lead],
        title="Somebody is wanted: <Fill>",
        lines=["Maple gave this back.", "Fill, 13:00 to 15:00"],
        path="/kitchens/x/rota/",
        at=timezone.now(),
    )


def test_everybody_is_told_once_by_mail_and_on_their_page(site: Site) -> None:
    with transaction.atomic():
        told(site)
        assert not mail.outbox
    swept = sweep_due(now=timezone.now() + timedelta(seconds=1))
    assert swept.sent == 2
    assert sorted(message.to for message in mail.outbox) == sorted([[site.lead.email], [site.member.email]])
    message = mail.outbox[0]
    assert isinstance(message, EmailMultiAlternatives)
    text, html = str(message.body), str(message.alternatives[0][0])
    assert "http://localhost:8000/kitchens/x/rota/" in text
    assert "Fill, 13:00 to 15:00" in text
    assert "Fill, 13:00 to 15:00" in html
    assert Notice.objects.count() == 2
    sweep_due(now=timezone.now() + timedelta(hours=25))
    assert len(mail.outbox) == 2

    client = Client()
    client.force_login(site.member)
    page = client.get(reverse("home:notices", args=[site.kitchen.slug])).content.decode()
    assert "Somebody is wanted: &lt;Fill&gt;" in page
    assert 'href="/kitchens/x/rota/"' in page
    assert "Check the seals" not in page


def test_news_that_cannot_be_sent_shows_to_the_lead(site: Site) -> None:
    told(site)
    Reminder.objects.filter(recipient=site.member).update(state=State.FAILED)
    client = Client()
    client.force_login(site.lead)
    page = client.get(reverse("home:kitchen", args=[site.kitchen.slug])).content.decode()
    assert f"{site.member}: Somebody is wanted: &lt;Fill&gt;. Call them." in page


def test_news_is_of_no_jars_and_a_seal_check_of_some(site: Site) -> None:
    row = told(site)[0]
    with pytest.raises(IntegrityError), transaction.atomic():
        Reminder.objects.filter(pk=row.pk).update(kind=Kind.SEAL_CHECK)


@pytest.mark.django_db(transaction=True)
def test_news_belongs_into_the_transaction_of_its_change() -> None:
    site = make_site()
    with pytest.raises(transaction.TransactionManagementError):
        told(site)
    assert not Reminder.objects.exists()
