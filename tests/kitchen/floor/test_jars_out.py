"""Jars out: never early without a hold (rules S5 and S16), and its reminders in the same transaction."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import transaction

from kitchen.errors import AlreadyDecided, NotAllowed, OutOfOrder, TooEarly
from kitchen.floor.actions import jars_out, record_event, withdraw_event
from kitchen.floor.models import EventKind
from kitchen.floor.queries import standing_events
from kitchen.planning.models import LoadState
from kitchen.reminders.models import Kind, Reminder
from kitchen.seals.actions import decide_hold
from kitchen.seals.models import HoldOutcome
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
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


def tap_all(run: Run) -> None:
    """The planned steps of a bean run."""
    for kind, minutes in BEAN_TAPS:
        run.tap(kind, minutes)


def test_jars_out_ends_the_run_and_writes_its_reminders(run: Run) -> None:
    tap_all(run)
    load = run.take_out(BEANS_OUT)
    assert (load.state, load.jars_out_at, load.process_ended_at, load.on_hold) == (
        LoadState.OUT,
        run.at(BEANS_OUT),
        run.at(57),
        False,
    )
    assert dict(Reminder.objects.values_list("kind", "due_at")) == {
        Kind.FIRST_CALL: run.at(BEANS_OUT) + timedelta(hours=12),
        Kind.SEAL_CHECK: run.at(BEANS_OUT) + timedelta(hours=24),
    }


def test_an_open_canner_needs_no_lid_line() -> None:
    run = make_applesauce_run(make_site())
    for kind, minutes in APPLESAUCE_TAPS:
        run.tap(kind, minutes)
    load = run.take_out(APPLESAUCE_OUT)
    assert (load.state, load.on_hold) == (LoadState.OUT, False)


def test_a_rollback_takes_jars_out_and_reminders_along(run: Run) -> None:
    tap_all(run)
    with transaction.atomic():
        run.take_out(BEANS_OUT)
        transaction.set_rollback(True)
    assert run.fresh().state == LoadState.RUNNING
    assert not Reminder.objects.exists()


def test_the_rest_is_never_cut_short(run: Run) -> None:
    """Heat off at 57, cool-down 45, rest 10: not before 112, however soon the gauge fell."""
    for kind, minutes in BEAN_TAPS[:5]:
        run.tap(kind, minutes)
    run.tap(EventKind.ZERO_PRESSURE, 90)
    run.tap(EventKind.LID_OFF, 100)
    with pytest.raises(TooEarly, match="10:52") as refusal:
        run.take_out(111)
    assert refusal.value.earliest == run.at(112)
    assert run.fresh().state == LoadState.RUNNING
    assert run.take_out(112).on_hold is False


def test_jars_that_came_out_early_are_on_hold_with_the_reason(run: Run) -> None:
    for kind, minutes in BEAN_TAPS[:5]:
        run.tap(kind, minutes)
    run.tap(EventKind.ZERO_PRESSURE, 90)
    run.tap(EventKind.LID_OFF, 100)
    load = run.take_out(111, "The canner was needed")
    assert (load.state, load.on_hold, load.deviation) == (
        LoadState.OUT,
        True,
        "Jars came out 1 minutes before cool-down and rest were over: The canner was needed",
    )
    assert Reminder.objects.count() == 2


def test_without_a_record_jars_out_needs_the_reason_and_holds(run: Run) -> None:
    with pytest.raises(OutOfOrder):
        run.take_out(BEANS_OUT)
    load = run.take_out(BEANS_OUT, "The tablet was flat")
    assert (load.state, load.on_hold, load.process_ended_at) == (LoadState.OUT, True, None)
    assert load.deviation == "The process record is incomplete: The tablet was flat"


def test_without_heat_off_the_planned_rest_counts(run: Run) -> None:
    load = run.take_out(100, "The tablet was flat")
    assert "Jars came out 12 minutes before cool-down and rest were over" in load.deviation


def test_what_the_operator_adds_holds_even_when_all_was_in_order(run: Run) -> None:
    tap_all(run)
    assert run.take_out(BEANS_OUT, "A jar broke in the canner").on_hold


def test_jars_come_out_once_and_only_an_operator_says_so(run: Run) -> None:
    tap_all(run)
    with pytest.raises(NotAllowed):
        jars_out(load=run.load, at=run.at(BEANS_OUT), actor=run.site.member, now=run.at(BEANS_OUT))
    run.take_out(BEANS_OUT)
    with pytest.raises(AlreadyDecided):
        run.take_out(BEANS_OUT + 1)
    assert Reminder.objects.count() == 2


def test_a_corrected_time_moves_the_reminders() -> None:
    run = make_beans_out(make_site())
    out = standing_events(run.load)[-1]
    record_event(
        load=run.load,
        kind=EventKind.JARS_OUT,
        at=run.at(BEANS_OUT + 20),
        actor=run.site.operator,
        corrects=out,
        now=run.at(BEANS_OUT + 30),
    )
    load = run.fresh()
    assert (load.jars_out_at, load.on_hold) == (run.at(BEANS_OUT + 20), False)
    assert Reminder.objects.get(kind=Kind.SEAL_CHECK).due_at == run.at(BEANS_OUT + 20) + timedelta(hours=24)


def test_a_corrected_heat_off_moves_the_deadline_and_may_hold() -> None:
    run = make_beans_out(make_site())
    off = next(event for event in standing_events(run.load) if event.kind == EventKind.HEAT_OFF)
    record_event(
        load=run.load,
        kind=EventKind.HEAT_OFF,
        at=run.at(60),
        actor=run.site.operator,
        corrects=off,
        now=run.at(BEANS_OUT + 5),
    )
    load = run.fresh()
    assert (load.process_ended_at, load.on_hold) == (run.at(60), False)
    assert Reminder.objects.get(kind=Kind.SEAL_CHECK).reprocess_by == run.at(60) + timedelta(hours=24)
    off = next(event for event in standing_events(run.load) if event.kind == EventKind.HEAT_OFF)
    record_event(
        load=run.load,
        kind=EventKind.HEAT_OFF,
        at=run.at(64),
        actor=run.site.operator,
        corrects=off,
        now=run.at(BEANS_OUT + 5),
    )
    assert run.fresh().deviation == "Jars came out 2 minutes before cool-down and rest were over."


def test_jars_released_a_minute_early_are_held_anew_when_it_was_eight() -> None:
    run = make_beans_out(make_site())

    def heat_was_off(minutes: float) -> None:
        off = next(event for event in standing_events(run.load) if event.kind == EventKind.HEAT_OFF)
        record_event(
            load=run.load,
            kind=EventKind.HEAT_OFF,
            at=run.at(minutes),
            actor=run.site.operator,
            corrects=off,
            now=run.at(BEANS_OUT + 5),
        )

    heat_was_off(63)
    decide_hold(load=run.load, outcome=HoldOutcome.RELEASED, by=run.site.lead, reason="One minute")
    assert not run.fresh().on_hold
    heat_was_off(70)
    assert run.fresh().on_hold
    assert [line.split(" before")[0] for line in run.fresh().deviation.splitlines()] == [
        "Jars came out 1 minutes",
        "Jars came out 8 minutes",
    ]


def test_jars_out_is_not_withdrawn() -> None:
    run = make_beans_out(make_site())
    with pytest.raises(AlreadyDecided, match="taken back"):
        withdraw_event(event=standing_events(run.load)[-1], actor=run.site.operator, note="", now=run.at(120))
