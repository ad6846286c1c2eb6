"""The server is shot in the middle of an operator's press: the record holds the press once or not at all, and the page
says which.

``KITCHEN_TEST_PRESSES=200 python -m pytest tests/drills/test_killed_presses.py -s`` does it 200 times and prints how
it went; without the variable it is done a few times.
"""

from __future__ import annotations

import os
import random
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, suppress
from datetime import timedelta
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from socket import socket
from time import sleep
from urllib.parse import urlencode
from uuid import uuid4

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from kitchen.audit.models import AuditEvent
from kitchen.bench.processes import Place, Process, end_group
from kitchen.drill.web_server import start_web_server
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import newest_line, standing_events
from kitchen.floor.rules import Tap, deviations_in
from kitchen.planning.models import HarvestDay, Load, LoadPhase, LoadPortion, LoadState
from kitchen.reminders.models import Reminder
from kitchen.serve.listen import open_socket
from tests.factories.canner_runs import Run, make_bean_run
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db(transaction=True)

PRESSES = int(os.environ.get("KITCHEN_TEST_PRESSES", "3"))
# A whole load pressed as fast as can be: from the third on every press also breaks a rule and holds the jars, which
# belongs to the same press.
STEPS = (
    EventKind.LOADED,
    EventKind.STEADY_STEAM,
    EventKind.WEIGHT_ON,
    EventKind.AT_PRESSURE,
    EventKind.PRESSURE_LOST,
    EventKind.AT_PRESSURE,
    EventKind.HEAT_OFF,
    EventKind.ZERO_PRESSURE,
    EventKind.LID_OFF,
    EventKind.JARS_OUT,
)
_TOKEN = "a" * 32
_PATIENCE_SECONDS = 60


class Kitchen:
    """A kitchen that is served by a process of its own, and an operator who is signed in there."""

    def __init__(self, run: Run, folder: Path) -> None:
        client = Client()
        client.force_login(run.site.operator)
        session = client.cookies[settings.SESSION_COOKIE_NAME].value
        self._cookies = f"{settings.SESSION_COOKIE_NAME}={session}; {settings.CSRF_COOKIE_NAME}={_TOKEN}"
        self._variables = Place(folder=folder).environment()
        self.run = run
        self.start()

    def start(self) -> None:
        self._listener: socket = open_socket("127.0.0.1", 0)
        self._server: Process = start_web_server(self._variables, self._listener)

    def shoot(self) -> None:
        """With the server its door is gone: who still waits before it is sent away, not served by the next one."""
        end_group(self._server)
        self._listener.close()

    def send(self, load: Load, kind: EventKind, seen: int) -> HTTPConnection:
        """A press on its way; nobody waits for the answer yet."""
        name = "floor:jars-out" if kind is EventKind.JARS_OUT else "floor:step"
        given = {"kind": kind, "seen": seen, "deviation": "A drill", "csrfmiddlewaretoken": _TOKEN}
        line = self._line()
        headers = {"Cookie": self._cookies, "Content-Type": "application/x-www-form-urlencoded"}
        to = reverse(name, args=[self.run.site.kitchen.slug, load.uuid])
        line.request("POST", to, urlencode(given), headers)
        return line

    def page(self, **asked: object) -> str:
        """The canner's page; waits until the server is there."""
        names = [self.run.site.kitchen.slug, self.run.day.uuid, self.run.load.canner.uuid]
        to = f"{reverse('floor:run-sheet', args=names)}?{urlencode(asked)}"
        with closing(self._line()) as line:
            line.request("GET", to, headers={"Cookie": self._cookies})
            with line.getresponse() as answer:
                told = answer.read().decode()
        assert answer.status == 200, told
        return told

    def _line(self) -> HTTPConnection:
        host, port = self._listener.getsockname()
        return HTTPConnection(host, port, timeout=_PATIENCE_SECONDS)


@pytest.fixture
def kitchen(tmp_path: Path) -> Iterator[Kitchen]:
    run = make_bean_run(make_site())
    now = timezone.now()
    HarvestDay.objects.filter(pk=run.day.pk).update(
        date=now.astimezone(run.site.kitchen.zone).date(),
        opens_at=now - timedelta(hours=6),
        closes_at=now + timedelta(hours=6),
    )
    made = Kitchen(run, tmp_path)
    yield made
    made.shoot()


def presses(run: Run) -> Iterator[tuple[Load, EventKind]]:
    """Press after press, load after load."""
    load = run.fresh()
    while True:
        yield from ((load, step) for step in STEPS)
        load = another(load)


def another(load: Load) -> Load:
    """The same load once more, the next of its canner."""
    phases, portions = list(load.phases.all()), list(load.portions.all())
    made = Load.objects.get(pk=load.pk)
    made.pk, made.uuid, made.canner_time, made.number = None, uuid4(), None, load.number + 1
    made.lot_code, made.state = f"{load.lot_code[:-1]}{made.number}"[-40:], LoadState.PLANNED
    made.jars_out_at = made.process_ended_at = None
    made.deviation, made.on_hold = "", False
    made.save()
    for phase in phases:
        LoadPhase.objects.create(load=made, kind=phase.kind, starts_at=phase.starts_at, ends_at=phase.ends_at)
    for portion in portions:
        LoadPortion.objects.create(
            load=made,
            batch=portion.batch,
            jars=portion.jars,
            process_key=portion.process_key,
            headspace_in=portion.headspace_in,
        )
    return made


def answered(line: HTTPConnection) -> bool:
    """Whether the press got its answer before the server was gone."""
    with closing(line), suppress(HTTPException, OSError), line.getresponse() as answer:
        return answer.status == 302
    return False


def check_whole(load: Load) -> None:
    """Whatever belongs to the lines of a record stands, and nothing else."""
    load = Load.objects.get(pk=load.pk)
    taps = [
        Tap(kind=EventKind(one.kind), at=one.at, reading_psi=one.reading_psi) for one in standing_events(load)
    ]
    kinds = {tap.kind for tap in taps}
    audited = AuditEvent.objects.filter(action="record_event", object_type="floor.runevent")
    assert audited.count() == RunEvent.objects.count()
    assert (load.state != LoadState.PLANNED) == (EventKind.LOADED in kinds)
    assert (load.state == LoadState.OUT) == (EventKind.JARS_OUT in kinds)
    assert Reminder.objects.filter(portion__load=load).count() == (2 if EventKind.JARS_OUT in kinds else 0)
    assert [told for told in deviations_in(load, taps) if told not in load.deviation] == []


def test_a_press_is_held_once_or_not_at_all_and_the_page_says_which(kitchen: Kitchen) -> None:
    dice, typical, told = random.Random(1), 0.05, Counter[str]()  # noqa: S311  (nothing secret hangs on it)
    for _, (load, kind) in zip(range(PRESSES), presses(kitchen.run), strict=False):
        kitchen.page()
        seen = newest_line(load)
        line = kitchen.send(load, kind, seen)
        sleep(dice.uniform(0.5, 1.5) * typical)  # The moment at which it is shot is what the drill is about.
        kitchen.shoot()
        was_answered = answered(line)

        kitchen.start()
        page = kitchen.page(pressed=kind, of=load.uuid, seen=seen)
        # A database server may still end what it was told before the shot, so it is counted after the page was asked.
        held = RunEvent.objects.filter(load=load, pk__gt=seen).count()
        assert held in ({1} if was_answered else {0, 1})
        says = {f"“{kind.label}” is recorded": 1, f"“{kind.label}” is not recorded": 0}
        assert [count for words, count in says.items() if words in page] == [held]
        check_whole(load)
        # Shots gather round the moment of writing.
        typical *= 0.9 if held else 1.1

        again = kitchen.send(load, kind, seen)
        assert answered(again)
        assert RunEvent.objects.filter(load=load, pk__gt=seen).count() == 1
        check_whole(load)
        told["answered" if was_answered else "held, no answer" if held else "not held"] += 1
    print(f"\n{PRESSES} presses shot: {dict(sorted(told.items()))}")  # noqa: T201  (it is what was asked for)
