"""Two tablets that press at the same moment: one line, and the other tablet is told."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from kitchen.errors import AlreadyRecorded, KitchenError, RecordMovedOn
from kitchen.floor.actions import record_event
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import newest_line
from tests.factories.canner_runs import BEAN_TAPS, Run, make_bean_run
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db(transaction=True)

TABLETS = 3


def press(run: Run, kind: EventKind, seen: int, together: Barrier) -> type[KitchenError] | None:
    """A press at the same moment as the others; how it was refused, or None."""
    at = run.at(57)
    try:
        together.wait()
        record_event(load=run.load, kind=kind, at=at, actor=run.site.operator, seen=seen, now=at)
    except (AlreadyRecorded, RecordMovedOn) as refusal:
        return type(refusal)
    finally:
        connection.close()
    return None


@pytest.mark.parametrize(
    ("kinds", "refused"),
    [
        ([EventKind.HEAT_OFF] * TABLETS, {AlreadyRecorded}),
        ([EventKind.HEAT_OFF, EventKind.PRESSURE_LOST], {RecordMovedOn}),
    ],
    ids=["the same", "one sees a loss"],
)
def test_presses_at_the_same_moment_write_one_line(
    kinds: list[EventKind], refused: set[type[KitchenError]]
) -> None:
    run = make_bean_run(make_site())
    for kind, minutes in BEAN_TAPS[:4]:
        run.tap(kind, minutes)
    seen, together = newest_line(run.load), Barrier(len(kinds), timeout=20)
    with ThreadPoolExecutor(len(kinds)) as threads:
        pressed = [threads.submit(press, run, kind, seen, together) for kind in kinds]
        answers = [one.result(timeout=40) for one in pressed]
    assert answers.count(None) == 1
    assert {one for one in answers if one is not None} == refused
    assert RunEvent.objects.filter(load=run.load, pk__gt=seen).count() == 1
