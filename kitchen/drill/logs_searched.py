"""Every log of a day in a deployment, searched for what must not be in one, for ``drill topology``."""

from __future__ import annotations

import json

from django.utils import timezone

from kitchen.drill.operators_day import PASSWORD, OperatorsDay
from kitchen.drill.report import Report
from kitchen.reminders.message import message_of
from kitchen.reminders.models import Reminder, State


def search_logs(day: OperatorsDay, report: Report) -> None:
    """Every log of the journey, searched for everything that must not be in one."""
    day.parts.ask(
        day.feed.replace("/feeds/", "/feeds/x")
    )  # An address that is no longer known is logged as such.
    mails = [message_of(one, now=timezone.now()) for one in Reminder.objects.filter(state=State.DONE)]
    secrets = {
        "the feed's secret": {day.feed.split("/")[-1].removesuffix(".ics")},
        "a session": {day.session["__Host-session"]},
        "a form's token": {day.session["__Host-csrf"]},
        "a device's token": {day.token, day.lead_token},
        "the password": {PASSWORD},
        "a mail's text": {line for mail in mails for line in mail.text.splitlines() if len(line) > 40},
        "a mail's subject": {mail.subject for mail in mails},
    }
    texts = {
        file.name: file.read_text(encoding="utf-8", errors="replace")
        for file in sorted(day.parts.logs.iterdir())
    }
    report.figure(
        "logs: " + ", ".join(f"{name} {len(text.splitlines())} lines" for name, text in texts.items())
    )
    found = [
        f"{what} in {name}"
        for what, values in secrets.items()
        for name, text in texts.items()
        if any(value in text for value in values)
    ]
    report.promise(f"none of {', '.join(secrets)} is in any log {found or ''}".strip(), kept=not found)
    report.promise(
        "the search could find them: the access log has the feed's place",
        kept="/feeds/[secret]" in texts["nginx-access.log"],
    )
    lines = [
        line for name in ("web-1.log", "web-2.log", "nginx-access.log") for line in texts[name].splitlines()
    ]
    report.promise(
        "web servers and proxy write one line of JSON an event", kept=all(_is_json(line) for line in lines)
    )


def _is_json(line: str) -> bool:
    try:
        return isinstance(json.loads(line), dict)
    except ValueError:
        return False
