"""What the drills with real workers and beats share: reminders that fall due, and what became of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import count

from django.db import connection

from kitchen.bench.paper_mail import sent_messages
from kitchen.bench.processes import Place, Process, start_celery, wait_until
from kitchen.bench.sites import make_site
from kitchen.bench.waiting import write_waiting
from kitchen.drill.report import Report
from kitchen.reminders.models import Notice, Reminder, State, SweepRun

_number = count()


def start_workers(
    running: list[Process], place: Place, broker: str, *, workers: int, queue: str = ""
) -> None:
    """So many workers on this broker, added to those that are ended after the drill."""
    variables = place.environment(KITCHEN_BROKER_URL=broker)
    words = ["worker", "-P", "solo", *(["--queues", queue] if queue else [])]
    running += [start_celery(variables, place.log, *words) for _ in range(workers)]


def start_beats(running: list[Process], place: Place, broker: str, *, beats: int) -> None:
    """So many beats on this broker, likewise; waits until they have woken a sweep."""
    variables, before = place.environment(KITCHEN_BROKER_URL=broker), sweeps()
    for one in range(beats):
        schedule = place.folder / f"beat-{one}"
        running.append(start_celery(variables, place.log, "beat", "--schedule", str(schedule)))
    wait_until(lambda: sweeps() > before + 2, what="A sweep")


def fall_due(many: int, over: timedelta) -> list[Reminder]:
    """So many reminders that fall due one after the other from now on."""
    now = datetime.now(UTC)
    site = make_site(next(_number), members=10, today=now.date())
    return write_waiting(site, [now + over * one / many for one in range(many)])


def sweeps() -> int:
    """How many sweeps there were."""
    return SweepRun.objects.count()


def wait_for(reminders: Sequence[Reminder], *, what: str) -> None:
    """Wait until all of them are done."""
    left = Reminder.objects.filter(pk__in=[one.pk for one in reminders]).exclude(state=State.DONE)
    wait_until(lambda: not left.exists(), what=what)


def judge_once(reminders: Sequence[Reminder], place: Place, report: Report) -> None:
    """Each of these, and nothing else, went out once, not early, with one notice."""
    due_at = {f"<reminder-{one.pk}@localhost>": one.due_at for one in reminders}
    sent = sent_messages(place.mail_file)
    report.figure(
        f"{connection.vendor} and Redis: {len(reminders)} reminders, {len(sent)} e-mails, "
        f"{Notice.objects.count()} notices, {sweeps()} sweeps"
    )
    once = Counter(dict.fromkeys(due_at, 1))
    report.promise("every reminder went out once", kept=Counter(one.message_id for one in sent) == once)
    report.promise(
        "none went out early", kept=all(one.at >= due_at.get(one.message_id, one.at) for one in sent)
    )
    noticed = Counter(Notice.objects.values_list("reminder_id", flat=True))
    report.promise("one notice for each", kept=noticed == Counter(one.pk for one in reminders))
