"""Whoever has an account is written to when a way into it is changed: of what, in which words, and for sure."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from io import StringIO
from itertools import pairwise
from smtplib import SMTPException

import pytest
from django.core import mail
from django.core.mail import EmailMessage
from django.core.management import call_command
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from kitchen.audit.models import AuditEvent
from kitchen.entrance.models import AccountNews, Change, Passkey
from kitchen.entrance.passkeys import remove_passkey
from kitchen.entrance.telling import GIVEN_UP_AFTER, mail_of, send_news, tell
from kitchen.members.actions import add_member, end_membership
from kitchen.members.models import Role, User
from kitchen.members.signing_in import accept_invitation, invite, set_password
from tests.factories.sites import Site
from tests.factories.walks import signed_in
from tests.kitchen.entrance.conftest import PASSWORD
from tests.kitchen.entrance.test_passkeys import added

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 12, 10, tzinfo=UTC)
OLD, NEW = PASSWORD, "nine crates of quinces"


def news_of(user: User) -> list[tuple[str, str]]:
    return list(AccountNews.objects.filter(user=user).order_by("pk").values_list("change", "passkey"))


def sent(user: User) -> str:
    """The subject and the words of the one message that goes out."""
    mail.outbox.clear()
    assert send_news(now=timezone.now()) == 1
    (message,) = mail.outbox
    assert message.to == [user.email]
    assert message.extra_headers == {"Auto-Submitted": "auto-generated"}
    return f"{message.subject}\n{message.body}"


def test_a_passkey_that_comes_or_goes_is_told_of(member: User) -> None:
    added(member)
    words = sent(member)
    name = Passkey.objects.get().name
    assert f"passkey {name} was added to your account" in words
    assert reverse("members:forgotten") in words
    assert reverse("entrance:passkeys") in words
    remove_passkey(passkey=Passkey.objects.get(), actor=member)
    assert f"passkey {name} was removed from your account" in sent(member)
    assert news_of(member) == []


def test_whoever_leaves_the_last_kitchen_is_told_that_their_passkeys_went(site: Site) -> None:
    added(site.member)
    AccountNews.objects.all().delete()
    end_membership(membership=site.member.memberships.get(), actor=site.lead)
    assert news_of(site.member) == [(Change.PASSKEY_REMOVED, "Telephone")]
    assert news_of(site.lead) == []


def test_another_password_is_told_of_whichever_way_it_came(member: User) -> None:
    client = signed_in(member)
    typed = {"old_password": OLD, "new_password1": NEW, "new_password2": NEW}
    assert client.post(reverse("members:change-password"), typed).status_code == 302
    words = sent(member)
    assert words.startswith("Your password was changed\n")
    assert NEW not in words
    assert OLD not in words
    Client().post(reverse("members:forgotten"), {"email": member.email})
    path = next(word for word in str(mail.outbox[-1].body).split() if "://" in word)
    begun = Client()
    form = begun.get(path, follow=True).redirect_chain[-1][0]
    assert begun.post(form, {"new_password1": OLD, "new_password2": OLD}).status_code == 302
    assert sent(member).startswith("Your password was changed\n")


def test_the_administration_has_no_way_past_it(site: Site) -> None:
    """Its own page would change a password without a line and without a message."""
    site.lead.set_password(OLD)
    site.lead.save()
    client, typed = signed_in(site.lead), {"old_password": OLD, "new_password1": NEW, "new_password2": NEW}
    for answer in (
        client.get(reverse("admin:password_change")),
        client.post(reverse("admin:password_change"), typed),
    ):
        assert (answer.status_code, answer["Location"]) == (302, reverse("members:change-password"))
    site.lead.refresh_from_db()
    assert site.lead.check_password(OLD)


def test_a_first_password_and_a_refused_one_are_no_news(site: Site) -> None:
    invited = add_member(
        kitchen=site.kitchen,
        email="wren@yard.example",
        display_name="Wren",
        role=Role.MEMBER,
        actor=site.lead,
    )
    token = invite(membership=invited, actor=site.lead)
    accept_invitation(user=invited.user, token=token, password=NEW)
    typed = {"old_password": "wrong", "new_password1": NEW, "new_password2": NEW}
    assert signed_in(site.member).post(reverse("members:change-password"), typed).status_code == 200
    assert not AccountNews.objects.exists()


def test_it_is_told_in_the_transaction_of_the_change(member: User) -> None:
    with transaction.atomic():
        set_password(user=member, password=NEW, actor=member)
        assert news_of(member) == [(Change.PASSWORD, "")]
        transaction.set_rollback(True)
    assert news_of(member) == []


def test_it_is_in_the_persons_language(member: User) -> None:
    member.language = "es"
    told = [
        mail_of(AccountNews(user=member, change=change, passkey="Telephone", happened_at=NOW))
        for change in Change
    ]
    for message in told:
        assert "Hello" not in str(message.body)
        assert "account" not in f"{message.subject} {message.body}".replace("/account", "")
        assert "12 de septiembre de 2026" in str(message.body)
    assert len({message.subject for message in told}) == len(Change)


def test_a_mail_server_that_does_not_answer_loses_nothing(
    member: User, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(_mail: EmailMessage) -> int:
        raise SMTPException("503")

    set_password(user=member, password=NEW, actor=member)
    now = timezone.now()
    with monkeypatch.context() as patched:
        patched.setattr(EmailMessage, "send", broken)
        assert send_news(now=now) == 0
    assert "account_news_not_sent" in caplog.text
    assert member.email not in caplog.text
    member.refresh_from_db()
    assert member.check_password(NEW)
    assert AuditEvent.objects.filter(action="set_password").count() == 1
    assert send_news(now=now) == 0  # Not at once again.
    assert send_news(now=now + timedelta(minutes=2)) == 1
    assert send_news(now=now + timedelta(days=1)) == 0
    assert len(mail.outbox) == 1


def test_it_is_tried_for_a_week_more_and_more_seldom(
    member: User, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    tries: list[datetime] = []
    now = timezone.now()

    def broken(_mail: EmailMessage) -> int:
        tries.append(now)
        raise OSError

    tell(user=member, change=Change.PASSWORD, at=now)
    first = now
    monkeypatch.setattr(EmailMessage, "send", broken)
    while AccountNews.objects.exists():
        send_news(now=now)
        now += timedelta(minutes=1)
    waits = [later - earlier for earlier, later in pairwise(tries)]
    assert waits == sorted(waits)
    assert (waits[0], waits[-1]) == (timedelta(minutes=2), timedelta(hours=4))
    assert tries[-1] - first >= GIVEN_UP_AFTER > tries[-2] - first
    assert "account_news_given_up" in caplog.text


def test_two_workers_at_once_send_it_once(member: User, monkeypatch: pytest.MonkeyPatch) -> None:
    tell(user=member, change=Change.PASSWORD, at=NOW)
    taken: list[str] = []

    def send(message: EmailMessage) -> int:
        if not taken:
            taken.append(str(message.subject))
            assert send_news(now=NOW) == 0
        return 1

    monkeypatch.setattr(EmailMessage, "send", send)
    assert send_news(now=NOW) == 1
    assert len(taken) == 1


def test_whoever_read_it_before_another_took_it_leaves_it_alone(
    member: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    tell(user=member, change=Change.PASSWORD, at=NOW)
    tell(user=member, change=Change.PASSKEY_ADDED, at=NOW, passkey="Telephone")
    subjects: list[str] = []

    def send(message: EmailMessage) -> int:
        if not subjects:  # The second is in hand already when another worker takes it.
            AccountNews.objects.filter(change=Change.PASSKEY_ADDED).update(attempts=1)
        subjects.append(str(message.subject))
        return 1

    monkeypatch.setattr(EmailMessage, "send", send)
    assert send_news(now=NOW) == 1
    assert subjects == ["Your password was changed"]
    assert news_of(member) == [(Change.PASSKEY_ADDED, "Telephone")]


def test_a_timer_that_only_sweeps_sends_it_too(member: User) -> None:
    tell(user=member, change=Change.PASSWORD, at=timezone.now())
    call_command("sweep", stdout=StringIO())
    assert [message.subject for message in mail.outbox] == ["Your password was changed"]
