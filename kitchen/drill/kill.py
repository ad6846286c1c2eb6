"""``drill kill``: sweepers are shot by the hundred while they send reminders."""

from __future__ import annotations

import json
import subprocess
import sys
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from django.db import connection

from kitchen.audit.models import AuditEvent
from kitchen.bench.paper_mail import sent_messages
from kitchen.bench.processes import PROJECT, Place
from kitchen.bench.sites import make_site
from kitchen.bench.waiting import write_waiting
from kitchen.drill.report import Drill, Report, Sizes
from kitchen.reminders.models import Notice, Reminder, State
from kitchen.reminders.sweeping import CLAIMED_AT_ONCE

_AT_ONCE = 4
_CONTROL = 200
_LEASE_SECONDS, _LONG_LEASE_SECONDS = 5, 300
_ONE_FALLS_DUE_EVERY = timedelta(milliseconds=40)


def run(sizes: Sizes, place: Place, report: Report) -> None:
    """The storm, then the control: the same sweeps without claims, and nobody shot."""
    now = datetime.now(UTC)
    site = make_site(0, members=20, today=now.date())
    due = [*_due_times(sizes["reminders"], now), *[now + timedelta(hours=1)] * _AT_ONCE]
    rows = write_waiting(site, due)
    expected, later = rows[:-_AT_ONCE], rows[-_AT_ONCE:]
    ended = storm(place, until=max(due[:-_AT_ONCE]), shots=sizes["kills"], reminders=len(expected))
    _judge(place, report, expected, later, ended, sizes["kills"])
    _control(place, report)


def storm(
    place: Place, *, until: datetime, shots: int = 0, reminders: int = 1, with_claims: bool = True
) -> Counter[str]:
    """Sweep until nothing is left that is due up to ``until``; how many sweepers ended in which way.

    So many are shot, within about as many messages as there are ``reminders``. A claim holds for longer where nobody is
    shot and nobody has to wait for it: on a busy machine a message may take seconds.
    """
    words = [
        *("-m", "kitchen.drill.sweepers", "--until", until.isoformat(), "--at-once", str(_AT_ONCE)),
        *("--shots", str(shots), "--lease", str(_LEASE_SECONDS if shots else _LONG_LEASE_SECONDS)),
        *("--messages-a-life", str(_messages_a_life(reminders, shots))),
    ]
    if not with_claims:
        words.append("--without-claims")
    told = subprocess.run(
        [sys.executable, *words], env=place.environment(), cwd=PROJECT, check=True, stdout=subprocess.PIPE
    )
    return Counter(json.loads(told.stdout.splitlines()[-1]))


def _messages_a_life(reminders: int, shots: int) -> int:
    """At which of its messages a sweeper is shot at latest, so that there is work for all who are to be shot, and some
    to spare: on a quick machine the first ones send what others were to be shot at.
    """
    return max(2 * reminders // (3 * shots), 1) if shots else 1


def _due_times(many: int, now: datetime) -> list[datetime]:
    """Half of them overdue, half to fall due while the sweepers run."""
    overdue = [now - timedelta(seconds=one) for one in range(many // 2)]
    falling = many - len(overdue)
    return overdue + [now + _ONE_FALLS_DUE_EVERY * one for one in range(falling)]


def _judge(
    place: Place,
    report: Report,
    expected: Sequence[Reminder],
    later: Sequence[Reminder],
    ended: Counter[str],
    kills: int,
) -> None:
    due_at = {f"<reminder-{one.pk}@localhost>": one.due_at for one in expected}
    sent = sent_messages(place.mail_file)
    ids = Counter(one.message_id for one in sent)
    done = Reminder.objects.filter(state=State.DONE)
    repeats = len(sent) - len(ids)
    report.figure(
        f"{connection.vendor}: {len(expected)} reminders, {ended['shot']} sweepers shot, {len(sent)} e-mails for "
        f"{len(ids)} reminders, {repeats} of them repeats, {done.count()} done, {Notice.objects.count()} notices"
    )
    report.promise(f"at least {kills} were shot", kept=ended["shot"] >= kills)
    report.promise("no sweep ended in an error", kept=ended["failed"] == 0)
    report.promise("every reminder went out", kept=ids.keys() >= due_at.keys())
    report.promise("every reminder is done", kept=set(done.values_list("pk", flat=True)) == _ids(expected))
    noticed = Notice.objects.values_list("reminder_id", flat=True)
    report.promise("one notice for each", kept=Counter(noticed) == Counter(_ids(expected)))
    audited = AuditEvent.objects.filter(action="send_reminder").values_list("object_id", flat=True)
    report.promise("one audit line for each", kept=Counter(audited) == Counter(map(str, _ids(expected))))
    report.promise(
        "none went out early",
        kept=all(one.at >= due_at[one.message_id] for one in sent if one.message_id in due_at)
        and not ids.keys() & {f"<reminder-{one.pk}@localhost>" for one in later},
    )
    report.promise(
        "a repeat bears the same Message-ID, and is what a sweep had sent and not noted when it was shot",
        kept=ids.keys() == due_at.keys() and repeats <= ended["shot"] * CLAIMED_AT_ONCE,
    )


def _ids(reminders: Sequence[Reminder]) -> set[object]:
    return {one.pk for one in reminders}


def _control(place: Place, report: Report) -> None:
    """Without the compare-and-swap the same must go wrong, or the drill could not tell."""
    now = datetime.now(UTC)
    rows = write_waiting(make_site(1, members=20, today=now.date()), [now] * _CONTROL)
    before = len(sent_messages(place.mail_file))
    storm(place, until=now, with_claims=False)
    sent = len(sent_messages(place.mail_file)) - before
    report.figure(f"control, without claims: {sent} e-mails for {len(rows)} reminders, with nobody shot")
    report.promise("without claims it fails, so the drill can tell", kept=sent > len(rows))


KILL = Drill(
    name="kill",
    about="Sweepers are shot at random while they send reminders; a control sweeps without claims.",
    sizes={"kills": 300, "reminders": 1_000},
    minutes=15,
    run=run,
)
