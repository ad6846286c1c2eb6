"""``drill slow-mail``: the mail server is slow, says no, hangs up, falls silent, and comes back."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from time import monotonic
from unittest.mock import patch

from django.db import connection
from django.test import override_settings

from kitchen.bench.processes import Place
from kitchen.bench.sites import make_site
from kitchen.bench.waiting import write_waiting
from kitchen.drill.moody_server import Mood, MoodyServer, moody_server
from kitchen.drill.report import Drill, Report, Sizes
from kitchen.errors import NotDelivered
from kitchen.reminders import sweeping
from kitchen.reminders.delivery import Post
from kitchen.reminders.message import message_of
from kitchen.reminders.models import Notice, Reminder, State
from kitchen.reminders.rules import PAUSES
from kitchen.reminders.sweeping import sweep_due

_PATIENCE_SECONDS = 0.5
"""How long a sweep waits for an answer here; a drill cannot wait for twenty seconds each time."""
_SLOW_SECONDS = 0.02
_A_LINE = 3
_CONTROL = 3


def run(sizes: Sizes, place: Place, report: Report) -> None:
    """Each mood in turn with reminders of its own, the silent one at last; then it comes back."""
    del place
    many, now = sizes["reminders"], datetime.now(UTC)
    with moody_server() as server, _mail_to(server):
        rows = write_waiting(
            make_site(0, members=20, today=now.date()),
            [now - timedelta(seconds=one) for one in range(3 * many)],
        )
        Reminder.objects.update(state=State.CANCELLED)
        _slow(report, server, rows[:many], now)
        _hanging_up(report, server, rows[many : 2 * many], now)
        _refusing(report, server, rows[2 * many :], now)
        _silent_and_back(report, server, rows[2 * many :], now)
        ids = Counter(server.taken)
        report.figure(f"{connection.vendor}: {len(rows)} reminders, {server.lines} lines to the server")
        report.promise("every reminder reached it", kept=ids.keys() == {_id(one) for one in rows})
        report.promise("and only once, for it said what it took", kept=set(ids.values()) == {1})
        done = Reminder.objects.filter(state=State.DONE).count()
        report.promise(
            "every reminder is done, with one notice", kept=done == Notice.objects.count() == len(rows)
        )
        _control(report, server, rows[:_CONTROL], now)


def _slow(report: Report, server: MoodyServer, rows: list[Reminder], now: datetime) -> None:
    """A claim is given back before it runs out, so another sweep never sends what this one is still sending."""
    server.mood = Mood(seconds=_SLOW_SECONDS)
    _make_due(rows)
    with patch.object(sweeping, "MOST_OF_A_LEASE", timedelta(seconds=8 * _SLOW_SECONDS)):
        began = monotonic()
        sent = sweep_due(now=now).sent
    report.figure(f"slow: {sent} sent in {monotonic() - began:.1f} s")
    waiting = Reminder.objects.filter(pk__in=[one.pk for one in rows], state=State.SENDING).count()
    report.promise("a slow server leaves nothing claimed behind", kept=waiting == 0)
    while Reminder.objects.filter(pk__in=[one.pk for one in rows]).exclude(state=State.DONE).exists():
        sweep_due(now=now)


def _hanging_up(report: Report, server: MoodyServer, rows: list[Reminder], now: datetime) -> None:
    server.mood = Mood(messages_a_line=_A_LINE)
    _make_due(rows)
    swept = sweep_due(now=now)
    report.promise(
        f"a server that hangs up after {_A_LINE} messages gets all of them in one sweep",
        kept=(swept.sent, swept.put_off) == (len(rows), 0),
    )


def _refusing(report: Report, server: MoodyServer, rows: list[Reminder], now: datetime) -> None:
    server.mood = Mood(refuses=True)
    _make_due(rows)
    lines = server.lines
    swept = sweep_due(now=now)
    report.promise("what is refused is put off", kept=(swept.sent, swept.put_off) == (0, len(rows)))
    report.promise("on one line", kept=server.lines == lines + 1)


def _silent_and_back(report: Report, server: MoodyServer, rows: list[Reminder], now: datetime) -> None:
    server.mood = Mood(silent=True)
    later = now + PAUSES[0]
    began = monotonic()
    swept = sweep_due(now=later)
    took = monotonic() - began
    report.figure(f"silent: {swept.put_off} put off in {took:.1f} s")
    report.promise(
        "a silent server is waited for once a sweep", kept=took < 2 * _PATIENCE_SECONDS + 0.01 * len(rows)
    )
    noticed = Notice.objects.filter(reminder__in=[one.pk for one in rows]).count()
    report.promise("its people are told on their pages meanwhile", kept=noticed == len(rows))
    reasons = Reminder.objects.filter(pk__in=[one.pk for one in rows]).values_list("last_failure", flat=True)
    report.promise("and why is written down", kept=all(reasons))
    server.mood = Mood()
    report.promise(
        "once it is back all go out",
        kept=sweep_due(now=later + sum(PAUSES[:2], timedelta())).sent == len(rows),
    )


def _control(report: Report, server: MoodyServer, rows: list[Reminder], now: datetime) -> None:
    """Whoever asks a silent server for each message waits for each."""
    server.mood = Mood(silent=True)
    began = monotonic()
    for one in rows:
        try:
            with Post() as post:
                post.deliver(message_of(one, now=now))
        except NotDelivered:
            continue
    took = monotonic() - began
    report.figure(f"control, asked for each of {len(rows)}: {took:.1f} s")
    report.promise(
        "asking for each takes longer, so the drill can tell", kept=took >= len(rows) * _PATIENCE_SECONDS
    )


def _make_due(rows: list[Reminder]) -> None:
    Reminder.objects.filter(pk__in=[one.pk for one in rows]).update(state=State.DUE)


def _id(reminder: Reminder) -> str:
    return f"<reminder-{reminder.pk}@localhost>"


@contextmanager
def _mail_to(server: MoodyServer) -> Iterator[None]:
    with override_settings(
        EMAIL_BACKEND="django.core.mail.backends.smtp.EmailBackend",
        EMAIL_HOST="127.0.0.1",
        EMAIL_PORT=server.port,
        EMAIL_USE_TLS=False,
        EMAIL_USE_SSL=False,
        EMAIL_HOST_USER="",
        EMAIL_HOST_PASSWORD="",
        EMAIL_TIMEOUT=_PATIENCE_SECONDS,
    ):
        yield


SLOW_MAIL = Drill(
    name="slow-mail",
    about="The mail server is slow, refuses, hangs up, falls silent and comes back; a control asks it each time.",
    sizes={"reminders": 100},
    minutes=5,
    run=run,
)
