"""What is noted of a load's process record, and of work that somebody timed."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command

from kitchen.audit.models import AuditEvent
from kitchen.batches.models import Batch
from kitchen.equipment.bridge import as_burner, as_canner
from kitchen.errors import AlreadyDecided, BadSetting, NotAllowed
from kitchen.floor.actions import record_event
from kitchen.floor.models import EventKind, RunEvent
from kitchen.learning.actions import time_work, withdraw_work
from kitchen.learning.bridge import counts
from kitchen.learning.models import MeasuredTime, TimedKind
from scheduler.cycle import usual_minutes
from scheduler.jars import JarSize
from scheduler.process import process_named
from tests.factories.canner_runs import (
    APPLESAUCE_OUT,
    APPLESAUCE_TAPS,
    BEAN_TAPS,
    BEANS_OUT,
    Run,
    make_applesauce_run,
    make_bean_run,
    make_beans_out,
)
from tests.factories.measured import noted
from tests.factories.sites import Site, declare, make_open_day, make_site
from tests.factories.walks import rows

pytestmark = pytest.mark.django_db

BEANS_NOTED = {"heat_up": 12, "pressure_up": 5, "cool_down": 45, "unloading": 5}


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def batch(site: Site) -> Batch:
    """Seven quarts of raw pack beans."""
    return declare(site, make_open_day(site))


def run_beans(run: Run, **moved: float) -> None:
    """The bean run with some steps at another minute."""
    for kind, minutes in BEAN_TAPS:
        run.tap(kind, moved.get(kind.value, minutes))
    run.take_out(moved.get("jars_out", BEANS_OUT))


def test_a_finished_load_leaves_the_minutes_of_its_phases_beside_the_usual_ones(site: Site) -> None:
    run = make_beans_out(site)
    assert noted(run) == BEANS_NOTED

    canner = as_canner(run.load.canner, on=run.day.date, service=())
    usual = usual_minutes(
        canner,
        as_burner(run.load.canner.burner),
        process_named(run.portion.process_key),
        (JarSize.QUART,),
    )
    for time in MeasuredTime.objects.exclude(kind=TimedKind.UNLOADING):
        assert time.usual_minutes == pytest.approx(usual[time.kind])  # type: ignore[index]  # a StrEnum's value
        assert (time.canner, time.on) == (run.load.canner, run.day.date)
    assert MeasuredTime.objects.get(kind=TimedKind.UNLOADING).usual_minutes == site.kitchen.unloading_minutes
    assert MeasuredTime.objects.get(kind=TimedKind.COOL_DOWN).least_minutes == 20


def test_nothing_is_noted_before_the_jars_are_out(site: Site) -> None:
    run = make_bean_run(site)
    for kind, minutes in BEAN_TAPS:
        run.tap(kind, minutes)
    assert noted(run) == {}


def test_of_a_load_without_pressure_only_the_heat_up_is_noted(site: Site) -> None:
    run = make_applesauce_run(site)
    for kind, minutes in APPLESAUCE_TAPS:
        run.tap(kind, minutes)
    run.tap(EventKind.LID_OFF, 50)
    run.take_out(APPLESAUCE_OUT)
    assert noted(run) == {"heat_up": 20}


def test_a_load_that_was_begun_anew_teaches_nothing(site: Site) -> None:
    run = make_bean_run(site)
    for kind, minutes in BEAN_TAPS[:4]:
        run.tap(kind, minutes)
    run.tap(EventKind.PRESSURE_LOST, 40)
    run.tap(EventKind.AT_PRESSURE, 44)
    for kind, minutes in BEAN_TAPS[4:]:
        run.tap(kind, minutes + 20)
    run.take_out(BEANS_OUT + 20)
    assert noted(run) == {}


def test_a_gap_in_the_record_leaves_the_phases_that_are_whole(site: Site) -> None:
    run = make_bean_run(site)
    for kind, minutes in BEAN_TAPS[:3]:
        run.tap(kind, minutes)
    run.take_out(BEANS_OUT, deviation="The tablet was flat")
    assert noted(run) == {"heat_up": 12}


def test_a_corrected_line_corrects_what_was_noted(site: Site) -> None:
    run = make_beans_out(site)
    steam = RunEvent.objects.get(load=run.load, kind=EventKind.STEADY_STEAM)
    record_event(
        load=run.load,
        kind=EventKind.STEADY_STEAM,
        at=run.at(15),
        actor=site.operator,
        corrects=steam,
        now=run.at(130),
    )
    assert noted(run) == BEANS_NOTED | {"heat_up": 10}
    line = AuditEvent.objects.filter(action="note_load").latest("pk")
    assert (line.before["heat_up"], line.after["heat_up"]) == (12, 10)


def test_a_correction_that_moves_no_phase_notes_nothing_anew(site: Site) -> None:
    run = make_beans_out(site)
    assert AuditEvent.objects.filter(action="note_load").count() == 1
    pressure = RunEvent.objects.get(load=run.load, kind=EventKind.AT_PRESSURE)
    record_event(
        load=run.load,
        kind=EventKind.AT_PRESSURE,
        at=pressure.at,
        reading_psi=15.5,
        actor=site.operator,
        corrects=pressure,
        now=run.at(130),
    )
    assert AuditEvent.objects.filter(action="note_load").count() == 1


def test_a_forced_cool_down_is_noted_and_does_not_count(site: Site) -> None:
    """Rule S5: no canner comes down in less than 20 minutes unless somebody helped it."""
    run = make_bean_run(site)
    run_beans(run, zero_pressure=76, lid_off=110)
    cool_down = MeasuredTime.objects.get(load=run.load, kind=TimedKind.COOL_DOWN)
    assert (cool_down.recorded_minutes, counts(cool_down)) == (19, False)
    assert counts(MeasuredTime.objects.get(load=run.load, kind=TimedKind.HEAT_UP))


def test_timed_work_stands_beside_the_usual_minutes(site: Site, batch: Batch) -> None:
    at = site.at(11)
    timed = time_work(
        batch=batch, kind=TimedKind.PREP, jars=7, hands=2, minutes=28, actor=site.operator, now=at
    )
    # 10 person-minutes a quart of beans, 7 quarts, two people; the guide of vegetables is 4.
    assert (timed.usual_minutes, timed.recorded_minutes, timed.family) == (35, 28, 4)
    assert (timed.on, timed.load, timed.batch) == (batch.arrives_at.date(), None, batch)
    line = AuditEvent.objects.get(action="time_work")
    assert (line.actor, line.after["recorded_minutes"]) == (site.operator, 28)
    filled = time_work(
        batch=batch, kind=TimedKind.FILL, jars=5, hands=1, minutes=7, actor=site.operator, now=at
    )
    # 50 quarts an hour a person.
    assert filled.usual_minutes == 6


def test_a_withdrawn_time_stays_and_is_said_to_be_withdrawn(site: Site, batch: Batch) -> None:
    timed = time_work(batch=batch, kind=TimedKind.PREP, jars=7, hands=2, minutes=28, actor=site.operator)
    withdraw_work(timed=timed, actor=site.operator)
    assert MeasuredTime.objects.get().withdrawn_at is not None
    assert AuditEvent.objects.filter(action="withdraw_work").count() == 1
    with pytest.raises(AlreadyDecided, match="withdrawn before"):
        withdraw_work(timed=timed, actor=site.operator)


def test_a_loads_time_is_not_withdrawn_but_its_record_corrected(site: Site) -> None:
    make_beans_out(site)
    with pytest.raises(AlreadyDecided, match="process record"):
        withdraw_work(timed=MeasuredTime.objects.get(kind=TimedKind.HEAT_UP), actor=site.operator)


@pytest.mark.parametrize(
    ("kind", "jars", "hands", "minutes", "said"),
    [
        (TimedKind.HEAT_UP, 7, 1, 10, "process record"),
        (TimedKind.PREP, 8, 1, 10, "8 jars"),
        (TimedKind.PREP, 0, 1, 10, "0 jars"),
        (TimedKind.PREP, 7, 0, 10, "0 people"),
        (TimedKind.PREP, 7, 21, 10, "21 people"),
        (TimedKind.PREP, 7, 1, 0.5, "0.5 minutes"),
        (TimedKind.PREP, 7, 1, 601, "601 minutes"),
        (TimedKind.KETTLE, 7, 1, 20, "raw pack"),
    ],
)
def test_work_beyond_belief_is_refused(
    site: Site, batch: Batch, kind: TimedKind, jars: int, hands: int, minutes: float, said: str
) -> None:
    with pytest.raises(BadSetting, match=said):
        time_work(batch=batch, kind=kind, jars=jars, hands=hands, minutes=minutes, actor=site.operator)
    assert not MeasuredTime.objects.exists()


def test_a_member_does_not_time_or_withdraw(site: Site, batch: Batch) -> None:
    with pytest.raises(NotAllowed):
        time_work(batch=batch, kind=TimedKind.PREP, jars=7, hands=1, minutes=60, actor=site.member)
    timed = time_work(batch=batch, kind=TimedKind.PREP, jars=7, hands=1, minutes=60, actor=site.operator)
    with pytest.raises(NotAllowed):
        withdraw_work(timed=timed, actor=site.member)


def test_loads_finished_before_are_measured_by_a_command_that_may_run_twice(site: Site) -> None:
    run = make_beans_out(site)
    MeasuredTime.objects.all().delete()
    said = StringIO()
    call_command("remeasure", stdout=said)
    assert said.getvalue().strip() == "1 finished loads, 1 of them measured"
    assert noted(run) == BEANS_NOTED
    assert {time.recorded_by for time in MeasuredTime.objects.all()} == {site.operator}
    before = rows()
    call_command("remeasure", stdout=said)
    assert rows() == before
