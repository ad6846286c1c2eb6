"""Signing in by a code from an e-mail: who gets one, where it holds, and what nobody learns by it."""

from __future__ import annotations

import logging
import re
from datetime import UTC, datetime, timedelta
from io import StringIO
from itertools import count
from smtplib import SMTPException
from uuid import UUID

import pytest
from django.core import mail
from django.core.mail import EmailMessage
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from kitchen.audit.models import AuditEvent
from kitchen.entrance.codes import ask_for_code, sign_in_by_code
from kitchen.entrance.models import MOST_TRIES, SignInCode
from kitchen.entrance.rules import HOLDS, LETTERS, digest_of
from kitchen.entrance.sending import send_codes
from kitchen.entrance.tasks import send_codes as send_codes_task
from kitchen.errors import NotAllowed
from kitchen.members.models import User
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 12, 10, tzinfo=UTC)
WRITTEN = re.compile(rf"^([{LETTERS}]{{4}}-[{LETTERS}]{{4}})$", re.M)
WRONG = "BBBB-BBBB"


def asked_by(user: User, now: datetime = NOW) -> UUID:
    return ask_for_code(email=user.email, language="en", now=now)


def code_sent(now: datetime = NOW) -> str:
    """The code in the newest message."""
    assert send_codes(now=now) == 1
    return code_of(mail.outbox[-1])


def code_of(message: EmailMessage) -> str:
    found = WRITTEN.search(str(message.body))
    assert found
    return found[1]


def ask(client: Client, email: str) -> tuple[int, str]:
    answer = client.post(reverse("entrance:ask-code"), {"username": email, "next": "/about-me/"})
    return answer.status_code, answer["Location"]


def enter(client: Client, code: str) -> int:
    return client.post(reverse("entrance:enter-code"), {"code": code, "next": "/about-me/"}).status_code


def is_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def test_a_code_lets_the_browser_in_that_asked_for_it(member: User) -> None:
    client = Client()
    assert ask(client, f" {member.email.upper()} ") == (302, "/sign-in/code/enter/?next=%2Fabout-me%2F")
    key = client.session.session_key
    send_codes_task()
    assert mail.outbox[0].to == [member.email]
    answer = client.post(
        reverse("entrance:enter-code"), {"code": code_of(mail.outbox[0]), "next": "/about-me/"}
    )
    assert (answer.status_code, answer["Location"]) == (302, "/about-me/")
    assert client.session["_auth_user_id"] == str(member.pk)
    assert client.session.session_key != key
    assert [*AuditEvent.objects.order_by("id").values_list("action", "actor_id", "after")] == [
        ("ask_for_code", member.pk, {}),
        ("sign_in_by_code", member.pk, {}),
    ]


def test_it_opens_nothing_in_another_browser(member: User) -> None:
    ask(Client(), member.email)
    send_codes(now=timezone.now())
    thief = Client()
    assert enter(thief, code_of(mail.outbox[0])) == 302
    assert not is_in(thief)
    ask(thief, "nobody@yard.example")
    assert enter(thief, code_of(mail.outbox[0])) == 422
    assert not is_in(thief)


@pytest.mark.parametrize("typed", [str.lower, lambda code: code.replace("-", ""), lambda code: f" {code} "])
def test_it_may_be_typed_as_it_comes(member: User, typed: object) -> None:
    asked = asked_by(member)
    assert callable(typed)
    assert sign_in_by_code(asked=asked, code=typed(code_sent()), now=NOW) == member


def test_it_holds_once(member: User) -> None:
    asked = asked_by(member)
    code = code_sent()
    sign_in_by_code(asked=asked, code=code, now=NOW)
    with pytest.raises(NotAllowed, match="No code holds"):
        sign_in_by_code(asked=asked, code=code, now=NOW)


def test_it_holds_for_ten_minutes(member: User) -> None:
    asked = asked_by(member)
    code = code_sent()
    with pytest.raises(NotAllowed, match="No code holds"):
        sign_in_by_code(asked=asked, code=code, now=NOW + HOLDS)
    assert sign_in_by_code(asked=asked, code=code, now=NOW + HOLDS - timedelta(seconds=1)) == member


def test_it_may_be_tried_a_few_times_and_every_try_counts(member: User) -> None:
    asked = asked_by(member)
    code = code_sent()
    told = []
    for _ in range(MOST_TRIES):
        with pytest.raises(NotAllowed) as refused:
            sign_in_by_code(asked=asked, code=WRONG, now=NOW)
        told.append(refused.value.remedy)
    assert told[:2] == ["Look again; tries left: 4.", "Look again; tries left: 3."]
    assert told[-1] == "Ask for another one."
    with pytest.raises(NotAllowed, match="No code holds"):
        sign_in_by_code(asked=asked, code=code, now=NOW)


def test_a_newer_one_ends_those_before_it_and_no_one_elses(member: User) -> None:
    other = make_site().member
    other.set_password("three jars of plums")
    other.save()
    theirs = asked_by(other)
    code = code_sent()
    first = asked_by(member)
    old = code_sent()
    # The one that was never made is ended too.
    never = asked_by(member, NOW + timedelta(seconds=1))
    second = asked_by(member, NOW + timedelta(seconds=2))
    SignInCode.objects.filter(uuid=never).update(ended_at=None)
    assert send_codes(now=NOW + timedelta(seconds=3)) == 2
    for asked in (first, never):
        with pytest.raises(NotAllowed, match="No code holds"):
            sign_in_by_code(asked=asked, code=old, now=NOW)
    assert sign_in_by_code(asked=second, code=code_of(mail.outbox[-1]), now=NOW) == member
    assert sign_in_by_code(asked=theirs, code=code, now=NOW) == other


def nobody_known() -> list[str]:
    """Addresses with which nobody may sign in: unknown, locked out, invited and not yet come."""
    site = make_site()
    site.other.set_password("three jars of plums")
    site.other.is_active = False
    site.other.save()
    site.operator.set_unusable_password()
    site.operator.save()
    return ["nobody@yard.example", site.other.email, site.operator.email]


def test_nothing_tells_whether_an_address_is_known(member: User) -> None:
    """The same answer, the same session, and the same work in the database; no message for those who get none."""
    told = []
    for email in (member.email, *nobody_known()):
        client = Client()
        with CaptureQueriesContext(connection) as asked:
            answer = client.post(reverse("entrance:ask-code"), {"username": email})
        shapes = [
            re.sub(r"'[^']*'|\b\d+\b|NULL|s\d+_x\d+", "?", one["sql"]) for one in asked.captured_queries
        ]
        page = client.get(answer["Location"]).content
        with CaptureQueriesContext(connection) as tried:
            wrong = [
                client.post(reverse("entrance:enter-code"), {"code": WRONG}) for _ in range(MOST_TRIES + 1)
            ]
        words = [re.sub(rb'value="[^"]*"', b"", one.content) for one in wrong]
        told.append(
            (
                answer.status_code,
                answer["Location"],
                shapes,
                re.sub(rb'value="[^"]*"', b"", page),
                [one.status_code for one in wrong],
                words,
                len(tried.captured_queries),
            )
        )
    for one in told[1:]:
        assert one == told[0]
    assert send_codes(now=timezone.now()) <= 1
    assert {one.to[0] for one in mail.outbox} <= {member.email}


def test_whoever_may_not_sign_in_gets_no_code(member: User) -> None:
    for email in nobody_known():
        ask_for_code(email=email, language="en", now=NOW)
    assert send_codes(now=NOW) == 0
    asked = asked_by(member)
    code = code_sent()
    User.objects.filter(pk=member.pk).update(is_active=False)
    with pytest.raises(NotAllowed):
        sign_in_by_code(asked=asked, code=code, now=NOW)


def test_the_code_stands_nowhere_but_in_the_message(member: User, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    asked = asked_by(member)
    code = code_sent().replace("-", "")
    sign_in_by_code(asked=asked, code=code, now=NOW)
    row = SignInCode.objects.get(uuid=asked)
    assert row.digest == digest_of(asked, code)
    kept = [*SignInCode.objects.values_list(), *AuditEvent.objects.values_list(), caplog.text]
    assert code not in str(kept).upper()
    assert code[:4] not in str(mail.outbox[0].subject).upper()


def test_the_message_is_in_the_persons_language_or_in_that_of_the_page(member: User) -> None:
    ask_for_code(email=member.email, language="es", now=NOW)
    code_sent()
    assert "Hola" in str(mail.outbox[-1].body)
    User.objects.filter(pk=member.pk).update(language="en")
    ask_for_code(email=member.email, language="es", now=NOW + timedelta(seconds=1))
    code_sent(NOW + timedelta(seconds=1))
    assert "Hello" in str(mail.outbox[-1].body)


def test_a_mail_server_that_does_not_answer_breaks_nothing(
    member: User, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(_mail: EmailMessage) -> int:
        raise SMTPException("503")

    asked_by(member)
    monkeypatch.setattr(EmailMessage, "send", broken)
    assert send_codes(now=NOW) == 0
    assert "code_not_sent" in caplog.text
    monkeypatch.undo()
    assert send_codes(now=NOW) == 0


def test_what_holds_no_longer_is_forgotten(member: User) -> None:
    asked_by(member)
    send_codes(now=NOW + HOLDS - timedelta(seconds=1))
    assert SignInCode.objects.count() == 1
    send_codes(now=NOW + HOLDS)
    assert SignInCode.objects.count() == 0


def test_a_timer_that_only_sweeps_sends_codes_too(member: User) -> None:
    asked_by(member, timezone.now())
    call_command("sweep", stdout=StringIO())
    assert len(mail.outbox) == 1


def test_an_address_is_asked_for_three_times_an_hour(member: User) -> None:
    answers = [ask(Client(), member.email)[0] for _ in range(3)]
    told = Client().post(reverse("entrance:ask-code"), {"username": member.email.upper()})
    assert (answers, told.status_code) == ([302] * 3, 429)
    assert ask(Client(), "nobody@yard.example")[0] == 302


def test_a_browser_asks_twenty_times_and_tries_thirty(member: User, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("time.time", lambda: 1_800_000_100.0)
    number = count(1)
    assert {ask(Client(), f"{next(number)}@yard.example")[0] for _ in range(20)} == {302}
    client = Client()
    assert client.post(reverse("entrance:ask-code"), {"username": member.email}).status_code == 429
    session = client.session
    session["code_asked_for"] = str(asked_by(member, timezone.now()))
    session.save()
    assert [enter(client, WRONG) for _ in range(30)] == [422] * 30
    assert enter(client, WRONG) == 429


def test_the_sign_in_page_sends_its_address_on(member: User) -> None:
    page = Client().get(reverse("members:sign-in")).content.decode()
    assert f'formaction="{reverse("entrance:ask-code")}" formnovalidate' in page
    answer = Client().post(reverse("entrance:ask-code"), {"username": "", "password": "x"})
    assert answer.status_code == 422


def test_nobody_is_led_elsewhere(member: User) -> None:
    client = Client()
    answer = client.post(
        reverse("entrance:ask-code"), {"username": member.email, "next": "https://elsewhere.example/"}
    )
    assert answer["Location"] == "/sign-in/code/enter/?next=%2F"
    client.force_login(member)
    assert client.get(reverse("entrance:enter-code"), {"next": "//elsewhere.example"})["Location"] == "/"
