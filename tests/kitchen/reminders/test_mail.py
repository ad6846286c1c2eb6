"""The bytes that the kitchen makes of a message say what the mail library's would."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from email import message_from_bytes, policy
from email.message import EmailMessage

import pytest
from django.core.mail.backends.base import BaseEmailBackend
from hypothesis import given
from hypothesis import strategies as st

from kitchen.reminders.mail import mail_of, wire_of
from kitchen.reminders.message import Message

LINE = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=30)
LINES = st.lists(LINE, max_size=5).map("\n".join) | st.sampled_from(
    ["ends\n", ".\n..\n", "\n", "From here\n"]
)
SUBJECT = LINE | st.sampled_from(
    ["Ollas de judías verdes y más, " * 9, "A long subject of plain letters, " * 9]
)
ADDRESS = st.sampled_from(
    ["member@kitchen.example", "jo.né@kitchen.example", "member@cocina-ñ.example", '"a b"@kitchen.example']
)


def message(text: str, html: str, subject: str = "Seals", to: str = "member@kitchen.example") -> Message:
    return Message(message_id="<reminder-1@localhost>", to=to, subject=subject, text=text, html=html)


def parsed(wire: bytes) -> EmailMessage:
    return message_from_bytes(wire, policy=policy.default)


def said_by(mail: EmailMessage) -> list[tuple[str, list[tuple[str, str]], object]]:
    """Every part with its headers and its content, apart from what no two messages share."""
    return [
        (
            part.get_content_type(),
            sorted(
                (name, " ".join(str(value).split()))
                for name, value in part.items()
                if name not in {"Date", "Content-Type"}
            ),
            None if part.is_multipart() else part.get_content().replace("\r\n", "\n"),
        )
        for part in mail.walk()
    ]


@given(text=LINES, html=LINES, subject=SUBJECT, to=ADDRESS)
def test_our_bytes_say_what_the_librarys_do(text: str, html: str, subject: str, to: str) -> None:
    one = message(f"Hello,\n{text}", html, subject.strip(), to)
    ours = wire_of(one)
    theirs = mail_of(one, BaseEmailBackend()).message().as_bytes(linesep="\r\n")  # type: ignore[call-arg]
    assert said_by(parsed(ours)) == said_by(parsed(theirs))
    assert b"\n" not in ours.replace(b"\r\n", b"")
    assert b"\r" not in ours.replace(b"\r\n", b"")


@pytest.mark.parametrize("text", ["é" * 500, "x" * 2000, "short"])
def test_no_line_is_longer_than_a_server_must_take(text: str) -> None:
    wire = wire_of(message(text, f"<p>{text}</p>"))
    assert max(map(len, wire.split(b"\r\n"))) <= 998
    body = parsed(wire).get_body(("plain",))
    assert body is not None
    assert body.get_content().strip() == text


def test_it_is_dated_and_bears_its_id() -> None:
    mail = parsed(wire_of(message("a", "b")))
    age = datetime.now(UTC) - mail["Date"].datetime.replace(tzinfo=UTC)
    assert timedelta() <= age < timedelta(minutes=1)
    assert mail["Message-ID"] == "<reminder-1@localhost>"


@pytest.mark.parametrize(
    ("subject", "to"),
    [
        ("Seals\nBcc: all@kitchen.example", "member@kitchen.example"),
        ("Seals", "a@b.example\nBcc: c@d.example"),
    ],
)
def test_nothing_comes_in_through_the_end_of_a_line(subject: str, to: str) -> None:
    with pytest.raises(ValueError, match="newline"):
        wire_of(message("a", "b", subject, to))
