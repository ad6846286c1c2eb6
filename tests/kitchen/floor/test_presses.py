"""A press is for the record as it was shown: pressed twice or overtaken, it writes nothing and says so."""

from __future__ import annotations

import pytest

from kitchen.audit.models import AuditEvent
from kitchen.errors import AlreadyRecorded, RecordMovedOn
from kitchen.floor.actions import jars_out, record_event, withdraw_event
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import newest_line, standing_events
from tests.factories.canner_runs import BEAN_TAPS, BEANS_OUT, Run, make_bean_run
from tests.factories.sites import make_site
from tests.factories.walks import rows

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    """A bean run on its way to pressure."""
    run = make_bean_run(make_site())
    for kind, minutes in BEAN_TAPS[:3]:
        run.tap(kind, minutes)
    return run


def press(run: Run, kind: EventKind, minutes: float, seen: int) -> RunEvent:
    """A press for the record as it stood at the line ``seen``."""
    at = run.at(minutes)
    return record_event(load=run.load, kind=kind, at=at, actor=run.site.operator, seen=seen, now=at)


def test_a_press_for_the_newest_line_is_written(run: Run) -> None:
    seen = newest_line(run.load)
    event = press(run, EventKind.AT_PRESSURE, 32, seen)
    assert standing_events(run.load)[-1] == event
    assert newest_line(run.load) == event.pk > seen


def test_the_first_press_has_seen_nothing() -> None:
    run = make_bean_run(make_site())
    assert newest_line(run.load) == 0
    press(run, EventKind.LOADED, 5, 0)
    with pytest.raises(AlreadyRecorded, match="“Loaded, heat on” at 09:05 by Operator Fenwick"):
        press(run, EventKind.LOADED, 6, 0)


def test_a_press_that_comes_twice_is_written_once(run: Run) -> None:
    seen = newest_line(run.load)
    press(run, EventKind.AT_PRESSURE, 32, seen)
    before = rows()
    with pytest.raises(AlreadyRecorded):
        press(run, EventKind.AT_PRESSURE, 33, seen)
    assert rows() == before


def test_a_stale_press_does_not_begin_the_clock_anew(run: Run) -> None:
    """One tablet recorded “at pressure” and its loss; the other still shows the button from before both."""
    seen = newest_line(run.load)
    press(run, EventKind.AT_PRESSURE, 32, seen)
    run.tap(EventKind.PRESSURE_LOST, 40)
    with pytest.raises(AlreadyRecorded, match="09:32"):
        press(run, EventKind.AT_PRESSURE, 41, seen)
    assert standing_events(run.load)[-1].kind == EventKind.PRESSURE_LOST


def test_a_stale_heat_off_does_not_end_a_process_begun_anew(run: Run) -> None:
    run.tap(EventKind.AT_PRESSURE, 32)
    seen = newest_line(run.load)
    run.tap(EventKind.PRESSURE_LOST, 50)
    run.tap(EventKind.AT_PRESSURE, 55)
    before = rows()
    with pytest.raises(RecordMovedOn, match="“Heat off” was not recorded"):
        press(run, EventKind.HEAT_OFF, 57, seen)
    assert rows() == before


def test_a_press_that_was_taken_back_does_not_come_back_late(run: Run) -> None:
    """A retry that arrives after the line was withdrawn: the record stands where it stood before, and yet."""
    seen = newest_line(run.load)
    line = press(run, EventKind.AT_PRESSURE, 32, seen)
    withdraw_event(event=line, actor=run.site.operator, note="Not yet", now=run.at(33))
    with pytest.raises(AlreadyRecorded):
        press(run, EventKind.AT_PRESSURE, 34, seen)
    assert standing_events(run.load)[-1].kind == EventKind.WEIGHT_ON


def test_a_correction_of_the_same_step_is_no_press(run: Run) -> None:
    weight = standing_events(run.load)[-1]
    seen = newest_line(run.load)
    record_event(
        load=run.load,
        kind=EventKind.WEIGHT_ON,
        at=run.at(28),
        actor=run.site.operator,
        corrects=weight,
        now=run.at(29),
    )
    with pytest.raises(RecordMovedOn):
        press(run, EventKind.WEIGHT_ON, 30, seen)


def test_lines_of_other_loads_do_not_matter(run: Run) -> None:
    other = make_bean_run(make_site())
    seen = newest_line(run.load)
    other.tap(EventKind.LOADED, 5)
    press(run, EventKind.AT_PRESSURE, 32, seen)


def test_jars_out_comes_once(run: Run) -> None:
    for kind, minutes in BEAN_TAPS[3:]:
        run.tap(kind, minutes)
    seen, at = newest_line(run.load), run.at(BEANS_OUT)
    jars_out(load=run.load, at=at, actor=run.site.operator, seen=seen, now=at)
    audited = AuditEvent.objects.count()
    with pytest.raises(AlreadyRecorded, match="“Jars out” at 10:57"):
        jars_out(load=run.load, at=at, actor=run.site.operator, seen=seen, now=run.at(BEANS_OUT + 1))
    assert AuditEvent.objects.count() == audited
