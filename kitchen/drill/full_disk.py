"""``drill full-disk``: the disk fills up while reminders are sent and a backup is written, and is cleared again.

The database's disk is made full as far as the database can tell: SQLite may add no page, PostgreSQL says of each new
audit line what it says of a full disk. The backup's disk is full for the process that writes it.
"""

from __future__ import annotations

import resource
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

from django.db import DatabaseError, connection, transaction
from django.test import override_settings

from kitchen.audit.models import AuditEvent
from kitchen.bench.paper_mail import sent_ids
from kitchen.bench.processes import PROJECT, Place
from kitchen.bench.sites import Site, make_site
from kitchen.bench.waiting import write_waiting
from kitchen.drill.report import Drill, Report, Sizes
from kitchen.reminders.actions import tell
from kitchen.reminders.models import Kind, Notice, Reminder, State
from kitchen.reminders.rules import LEASE
from kitchen.reminders.sweeping import CLAIMED_AT_ONCE, sweep_due

_ROOM_FOR_A_FILE = 16 * 1024
_MOST_NEWS = 2_000
"""Far more than go into what is left of the pages that the database has."""
_FULL = """
    CREATE FUNCTION drill_disk_full() RETURNS trigger LANGUAGE plpgsql AS
    $$ BEGIN RAISE EXCEPTION 'could not extend file: No space left on device' USING ERRCODE = '53100'; END $$;
    CREATE TRIGGER drill_disk_full BEFORE INSERT ON audit_auditevent EXECUTE FUNCTION drill_disk_full();
"""


def run(sizes: Sizes, place: Place, report: Report) -> None:
    """Full, then cleared; what was promised of both, and whether anything was half written."""
    now = datetime.now(UTC)
    mail = override_settings(
        EMAIL_BACKEND="kitchen.bench.paper_mail.EmailBackend", EMAIL_FILE_PATH=str(place.mail_file)
    )
    with mail:
        site = make_site(0, members=20, today=now.date())
        rows = write_waiting(site, [now - timedelta(seconds=one) for one in range(sizes["reminders"])])
        with _full_disk():
            # The first sweep may still find room for its own beginning, and fail when it notes what it sent.
            sweeps = int(_sweep_fails(now))
            refused = _news_until_refused(site, now)
            silent = not _sweep_fails(now + LEASE)
        before = len(sent_ids(place.mail_file))
        report.promise("what cannot be written is an error, not a silence", kept=refused and not silent)
        told = Reminder.objects.filter(kind=Kind.ROTA).count()
        audited = AuditEvent.objects.filter(action="tell").count()
        report.promise("nothing is half written", kept=told == audited)
        report.promise("nothing counts as sent without its notice and its audit line", kept=_whole())
        for number in range(3):
            sweep_due(now=now + (3 + number) * LEASE)
        _judge(place, report, rows, told=told, before=before, sweeps=sweeps + 1)
        _backup(place, report)


def _news_until_refused(site: Site, now: datetime) -> bool:
    """News as from any page; whether the database refused some in the end."""
    for _ in range(_MOST_NEWS):
        try:
            with transaction.atomic():
                tell(
                    kitchen=site.kitchen,
                    to=site.members[:1],
                    title="Yours now",
                    lines=["Fill, 13:00 to 15:00"] * 20,
                    path="/",
                    at=now + timedelta(days=1),
                )
        except DatabaseError:
            return True
    return False


def _sweep_fails(now: datetime) -> bool:
    try:
        sweep_due(now=now)
    except DatabaseError:
        return True
    return False


def _whole() -> bool:
    done = set(Reminder.objects.filter(state=State.DONE).values_list("pk", flat=True))
    noticed = set(Notice.objects.values_list("reminder", flat=True))
    audited = AuditEvent.objects.filter(action="send_reminder").values_list("object_id", flat=True)
    return done == noticed and Counter(map(str, done)) == Counter(audited)


def _judge(
    place: Place, report: Report, rows: list[Reminder], *, told: int, before: int, sweeps: int
) -> None:
    ids = Counter(sent_ids(place.mail_file))
    repeats = ids.total() - len(ids)
    report.figure(
        f"{connection.vendor}: {len(rows)} reminders, {before} sent on a full disk, {repeats} sent again once there "
        f"was room; {told} pieces of news were written before it was full"
    )
    report.promise("once there is room every reminder goes out", kept=_whole() and _all_done(rows))
    mine = {f"<reminder-{one.pk}@localhost>" for one in rows}
    report.promise(
        "a repeat bears the same Message-ID, and is what could not be noted",
        kept=ids.keys() == mine and repeats <= sweeps * CLAIMED_AT_ONCE,
    )
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA integrity_check")
            report.promise("the database is sound", kept=cursor.fetchone() == ("ok",))


def _all_done(rows: list[Reminder]) -> bool:
    return Reminder.objects.filter(pk__in=[one.pk for one in rows], state=State.DONE).count() == len(rows)


def _backup(place: Place, report: Report) -> None:
    """A backup that does not fit leaves no file that could be taken for one."""
    cramped, roomy = place.folder / "cramped.kitchen", place.folder / "roomy.kitchen"
    failed = _write_backup(place, str(cramped), room=_ROOM_FOR_A_FILE)
    left = [one.name for one in place.folder.iterdir() if cramped.name in one.name]
    report.promise("a backup without room fails", kept=failed != 0)
    report.promise("and leaves nothing behind", kept=left == [])
    report.promise(
        "with room it is written", kept=_write_backup(place, str(roomy), room=None) == 0 and roomy.exists()
    )


def _write_backup(place: Place, file: str, *, room: int | None) -> int:
    limit = resource.RLIM_INFINITY if room is None else room
    made = subprocess.run(
        [sys.executable, "-m", "kitchen", "backup", file],
        env=place.environment(),
        cwd=PROJECT,
        check=False,
        capture_output=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY)),
    )
    return made.returncode


@contextmanager
def _full_disk() -> Iterator[None]:
    """No room for anything new in the database, until the block is left."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA page_count")
            cursor.execute(f"PRAGMA max_page_count = {cursor.fetchone()[0]}")
        else:
            cursor.execute(_FULL)
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                cursor.execute("PRAGMA max_page_count = 1073741823")
            else:
                cursor.execute(
                    "DROP TRIGGER drill_disk_full ON audit_auditevent; DROP FUNCTION drill_disk_full()"
                )


FULL_DISK = Drill(
    name="full-disk",
    about="The disk fills up while reminders are sent and a backup is written, and is cleared again.",
    sizes={"reminders": 300},
    minutes=5,
    run=run,
)
