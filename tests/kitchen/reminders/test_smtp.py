"""A real conversation with a mail server on this machine."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any  # What a library asks another is theirs.

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session
from pytest_django import Settings

from kitchen.reminders.actions import schedule_for_load
from kitchen.reminders.claims import claim
from kitchen.reminders.delivery import Post
from kitchen.reminders.message import message_of
from kitchen.reminders.models import Kind, Notice, Reminder, State
from kitchen.reminders.rules import LEASE
from kitchen.reminders.sweeping import sweep_due
from kitchen.reminders.words import PRESS
from tests.factories.loads import load_of_one

pytestmark = pytest.mark.django_db

OUT = datetime(2026, 9, 12, 18, tzinfo=UTC)
FIRST_CALL = OUT + timedelta(hours=12)


class MailServer:
    """Takes every message, or answers as it is told to."""

    def __init__(self) -> None:
        self.answer = "250 OK"
        self.taken: list[EmailMessage] = []
        self.lines = 0
        self.hangs_up = False

    async def handle_EHLO(
        self, server: SMTP, session: Session, envelope: Envelope, hostname: str, responses: list[str]
    ) -> list[str]:
        self.lines += 1
        session.host_name = hostname
        return responses

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:
        assert isinstance(envelope.content, bytes)
        if self.answer.startswith("250"):
            self.taken.append(message_from_bytes(envelope.content, policy=policy.default))
        if self.hangs_up:
            assert server.transport
            server.transport.close()
        return self.answer


@pytest.fixture
def mail_server(settings: Settings) -> Iterator[MailServer]:
    server = MailServer()
    with socket.socket() as door:  # A free port: the controller knocks at its own door by number.
        door.bind(("127.0.0.1", 0))
        port = door.getsockname()[1]
    controller = Controller(server, hostname="127.0.0.1", port=port)
    controller.start()
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST = "127.0.0.1"
    settings.EMAIL_PORT = port
    yield server
    controller.stop()


@pytest.fixture(autouse=True)
def reminder() -> Reminder:
    load = load_of_one(process_ended_at=OUT - timedelta(minutes=62))
    schedule_for_load(load=load, jars_out_at=OUT)
    return Reminder.objects.get(kind=Kind.FIRST_CALL)


def test_a_mail_server_takes_both_parts_whole(mail_server: MailServer, reminder: Reminder) -> None:
    assert sweep_due(now=FIRST_CALL).sent == 1
    (mail,) = mail_server.taken
    text, html = (mail.get_body((kind,)) for kind in ("plain", "html"))
    assert text
    assert html
    assert mail["To"] == reminder.recipient.email
    assert mail["Auto-Submitted"] == "auto-generated"
    assert PRESS in text.get_content()
    assert "leave 1½ inches of headspace" in text.get_content()
    assert f"<li>{PRESS}</li>" in html.get_content()


def test_a_sweep_killed_after_the_mail_sends_it_again_under_the_same_id(
    mail_server: MailServer, reminder: Reminder
) -> None:
    dying = claim(reminder.pk, now=FIRST_CALL, held_from=None)
    assert dying
    with Post() as post:
        post.deliver(message_of(dying.reminder, now=FIRST_CALL))
    assert sweep_due(now=FIRST_CALL + LEASE).sent == 1
    ids = [mail["Message-ID"] for mail in mail_server.taken]
    assert ids == [f"<reminder-{reminder.pk}@localhost>"] * 2
    assert Notice.objects.count() == 1


@pytest.mark.parametrize("answer", ["451 try again later", "550 no such mailbox", "250"])
def test_a_refusal_is_kept_and_tried_again(mail_server: MailServer, reminder: Reminder, answer: str) -> None:
    mail_server.answer = answer
    sent = int(answer == "250")
    assert sweep_due(now=FIRST_CALL).sent == sent
    reminder.refresh_from_db()
    assert reminder.state == (State.DONE if sent else State.DUE)
    assert reminder.last_failure == ("" if sent else f"SMTPDataError: ({answer[:3]}, b'{answer[4:]}')")


def test_a_mail_server_that_is_not_there_is_a_failure_like_any_other(
    settings: Settings, reminder: Reminder, mail_server: MailServer
) -> None:
    settings.EMAIL_PORT = 1
    assert sweep_due(now=FIRST_CALL).put_off == 1
    reminder.refresh_from_db()
    assert reminder.last_failure.startswith("ConnectionRefusedError")


@pytest.fixture
def five_more() -> None:
    for _ in range(5):
        schedule_for_load(load=load_of_one(process_ended_at=OUT), jars_out_at=OUT)


@pytest.mark.usefixtures("five_more")
def test_a_sweep_sends_all_its_messages_on_one_line(mail_server: MailServer) -> None:
    assert sweep_due(now=FIRST_CALL).sent == 6
    assert (mail_server.lines, len(mail_server.taken)) == (1, 6)


@pytest.mark.usefixtures("five_more")
def test_a_refused_message_does_not_cost_the_others_their_line(mail_server: MailServer) -> None:
    mail_server.answer = "451 try again later"
    assert sweep_due(now=FIRST_CALL).put_off == 6
    assert mail_server.lines == 1


@pytest.mark.usefixtures("five_more")
def test_a_server_that_hangs_up_after_each_message_gets_all_of_them(mail_server: MailServer) -> None:
    """It does so before its answer: what it took comes again, under the same id."""
    mail_server.hangs_up = True
    swept = sweep_due(now=FIRST_CALL)
    assert swept.sent + swept.put_off == 6
    mail_server.hangs_up = False
    sweep_due(now=FIRST_CALL + timedelta(minutes=1))
    assert len({mail["Message-ID"] for mail in mail_server.taken}) == 6
    assert Reminder.objects.filter(state=State.DONE).count() == 6


@pytest.mark.usefixtures("five_more", "mail_server")
def test_a_server_that_cannot_be_reached_is_asked_once_a_sweep(
    settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.EMAIL_PORT = 1
    asked, connect = [], socket.create_connection

    def create_connection(*given: Any, **more: Any) -> socket.socket:
        asked.append(given)
        return connect(*given, **more)

    monkeypatch.setattr(socket, "create_connection", create_connection)
    assert sweep_due(now=FIRST_CALL).put_off == 6
    assert len(asked) == 1
    assert Notice.objects.count() == 6, "a broken mail server must not hide them"
