"""``drill restore``: backups are made while the kitchen is written to, restored elsewhere, and compared."""

from __future__ import annotations

import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.cookiejar import CookieJar
from io import StringIO
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import urlencode, urlsplit
from urllib.request import HTTPCookieProcessor, OpenerDirector, build_opener

from django.apps import apps
from django.core.management import call_command
from django.db import connection, connections
from django.urls import reverse
from django.utils import timezone

from kitchen.audit.models import AuditEvent
from kitchen.backup.container import opened_backup
from kitchen.backup.manifest import Manifest
from kitchen.bench.processes import (
    PROJECT,
    Place,
    ended_after,
    environment,
    start,
    wait_until,
)
from kitchen.bench.sites import make_site
from kitchen.bench.waiting import write_waiting
from kitchen.calendars.actions import create_feed
from kitchen.calendars.bridge import feed_ics
from kitchen.calendars.models import FeedKind
from kitchen.drill.report import Drill, Report, Sizes
from kitchen.drill.web_server import start_web_server
from kitchen.drill.writer import ACTION, PEOPLE
from kitchen.members.models import Membership, Role
from kitchen.reminders.models import Kind, Reminder, State
from kitchen.serve.listen import open_socket

_COPY = "restored"
_PASSWORD = "remembered by the lead alone"  # noqa: S105  (of a database that is thrown away)
_TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="([^"]+)"')


def run(sizes: Sizes, place: Place, report: Report) -> None:
    """Backups under fire first, then one of a kitchen at rest, then files that are damaged."""
    call_command("load_demo", stdout=StringIO())
    site = make_site(0, members=20, today=timezone.now().date())
    in_an_hour = datetime.now(UTC) + timedelta(hours=1)
    write_waiting(site, [in_an_hour + timedelta(seconds=one) for one in range(sizes["reminders"])])
    lead = Membership.objects.filter(role=Role.LEAD, user__email__startswith="lead@").get()
    lead.user.set_password(_PASSWORD)
    lead.user.save()
    feed = create_feed(user=lead.user, kitchen=lead.kitchen, kind=FeedKind.DAYS)
    with _a_copy(place) as variables:
        _under_writes(sizes, place, variables, site.kitchen.pk, report)
        at_rest = _back_up(place, "at-rest")
        _restore(variables, at_rest)
        report.promise("at rest, every row of every table is equal in the copy", kept=not _differences())
        _refusals(place, variables, at_rest, report)
        _use(variables, place, lead.user.email, feed.address, feed_ics(feed.feed, timezone.now()), report)


def _under_writes(
    sizes: Sizes, place: Place, variables: dict[str, str], kitchen: int, report: Report
) -> None:
    with ended_after([]) as running:
        for _ in range(sizes["writers"]):
            running.append(start(place.environment(), "-m", "kitchen.drill.writer", str(kitchen)))
        wait_until(lambda: _told("default") > sizes["writers"], what="The first write")
        written, backups = [], []
        for number in range(sizes["backups"]):
            before = _told("default")
            backups.append(_back_up(place, f"under-writes-{number}"))
            written.append(_told("default") - before)
    whole = equal = waiting = True
    for backup in backups:
        _restore(variables, backup)
        manifest = _manifest(backup, place)
        whole &= _told(_COPY) * PEOPLE == Reminder.objects.using(_COPY).filter(kind=Kind.ROTA).count()
        equal &= _counts(_COPY) == {name: table.rows for name, table in manifest.tables.items()}
        waiting &= _waiting("default") == _waiting(_COPY)
    report.figure(
        f"{connection.vendor}: {len(backups)} backups of about {_manifest(backups[-1], place).rows} rows, "
        f"{sizes['writers']} writers; transactions written while each was made: {', '.join(map(str, written))}"
    )
    report.promise("something was written during each, so the drill can tell", kept=min(written) > 0)
    report.promise("each copy holds as many rows in every table as were saved", kept=equal)
    report.promise("no copy holds half a transaction", kept=whole)
    report.promise(f"the same {sizes['reminders']} reminders wait in each copy", kept=waiting)


def _refusals(place: Place, variables: dict[str, str], backup: Path, report: Report) -> None:
    whole = bytearray(backup.read_bytes())
    short = bytes(whole[: len(whole) * 2 // 3])
    whole[len(whole) // 2] ^= 1
    damaged = {"that was cut short": short, "with one bit changed": bytes(whole)}
    for what, content in damaged.items():
        file = place.folder / "damaged"
        file.write_bytes(content)
        refused = _kitchen(variables, "restore", str(file), "--replace").returncode != 0
        report.promise(
            f"a backup {what} is refused, and nothing changed", kept=refused and not _differences()
        )
    refused = _kitchen(variables, "restore", str(backup)).returncode != 0
    report.promise("a database with kitchens is not overwritten unasked", kept=refused and not _differences())


def _use(
    variables: dict[str, str], place: Place, email: str, address: str, calendar: bytes, report: Report
) -> None:
    """A login and a feed, from a web server on the copy, which has a secret key of its own."""
    with open_socket("127.0.0.1", 0) as listener, ended_after([]) as running:
        running.append(start_web_server(variables, listener))
        here = f"http://127.0.0.1:{listener.getsockname()[1]}"
        report.promise("one login works on the copy", kept=_signs_in(here, email))
        found = _read(here + urlsplit(address).path)
        report.figure(f"the feed has {found.count(b'BEGIN:VEVENT')} entries")
        report.promise("one feed works on the copy, and is the same to the byte", kept=found == calendar)


def _signs_in(here: str, email: str) -> bool:
    browser = build_opener(HTTPCookieProcessor(CookieJar()))
    sign_in = here + reverse("members:sign-in")
    token = _TOKEN.search(_read(sign_in, browser).decode())
    sent = urlencode(
        {"username": email, "password": _PASSWORD, "csrfmiddlewaretoken": token[1] if token else ""}
    )
    try:
        with browser.open(sign_in, sent.encode()) as page:
            return bool(page.url != sign_in)
    except HTTPError:
        return False


def _read(address: str, browser: OpenerDirector | None = None) -> bytes:
    """The page, or nothing of one that is refused."""
    try:
        with (browser or build_opener()).open(address) as answer:
            found: bytes = answer.read()
            return found
    except HTTPError:
        return b""


@contextmanager
def _a_copy(place: Place) -> Iterator[dict[str, str]]:
    """A second folder and an empty database beside the drill's own; its rows are read as those of ``_COPY``."""
    folder = place.folder / _COPY
    on_server = connection.vendor == "postgresql"
    name = f"{connection.settings_dict['NAME']}_copy" if on_server else str(folder / "kitchen.sqlite3")
    variables = environment(folder, name)
    if on_server:
        with connection.cursor() as cursor:
            cursor.execute(f"CREATE DATABASE {connection.ops.quote_name(name)}")
    connections.databases[_COPY] = {**connections.databases["default"], "NAME": name}
    try:
        yield variables
    finally:
        connections[_COPY].close()
        if on_server:
            with connection.cursor() as cursor:
                cursor.execute(f"DROP DATABASE {connection.ops.quote_name(name)} WITH (FORCE)")
        del connections[_COPY], connections.databases[_COPY]


def _back_up(place: Place, name: str) -> Path:
    file = place.folder / f"{name}.backup"
    _kitchen(place.environment(), "backup", str(file)).check_returncode()
    return file


def _restore(variables: dict[str, str], backup: Path) -> None:
    _kitchen(variables, "restore", str(backup), "--replace").check_returncode()


def _kitchen(variables: dict[str, str], *words: str) -> subprocess.CompletedProcess[bytes]:
    connections[_COPY].close()  # A restore wants the database for itself.
    return subprocess.run(
        [sys.executable, "-m", "kitchen", *words],
        env=variables,
        cwd=PROJECT,
        capture_output=True,
        check=False,
    )


def _manifest(backup: Path, place: Place) -> Manifest:
    with opened_backup(backup, place.folder) as (manifest, _):
        return manifest


def _told(database: str) -> int:
    return AuditEvent.objects.using(database).filter(action=ACTION).count()


def _waiting(database: str) -> Sequence[tuple[object, ...]]:
    waiting = Reminder.objects.using(database).filter(state=State.DUE).exclude(kind=Kind.ROTA)
    return list(waiting.order_by("pk").values_list("pk", "due_at", "next_attempt_at", "recipient_id"))


def _counts(database: str) -> dict[str, int]:
    """Counted once more, past the backup's own way of counting."""
    with connections[database].cursor() as cursor:
        counted = {}
        for name in connections[database].introspection.table_names(cursor):
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(name)}")  # noqa: S608  (its own name)
            counted[name] = cursor.fetchone()[0]
        return counted


def _differences() -> list[str]:
    """The models whose rows are not the same in the copy, read whole."""
    return [
        model._meta.label
        for model in apps.get_models(include_auto_created=True)
        if Counter(map(repr, model._default_manager.using("default").values_list()))
        != Counter(map(repr, model._default_manager.using(_COPY).values_list()))
    ]


RESTORE = Drill(
    name="restore",
    about="Backups while the kitchen is written to, restored elsewhere, compared and used.",
    sizes={"reminders": 1000, "writers": 3, "backups": 3},
    minutes=10,
    run=run,
)
