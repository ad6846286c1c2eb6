"""Writing the process record, and taking the jars out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from kitchen.errors import AlreadyDecided, OutOfOrder, TooEarly
from kitchen.floor.bridge import phases_took
from kitchen.floor.lines import check_correction, check_seen, write_line
from kitchen.floor.looking import look_at_canner, look_at_gauge, look_at_process, look_at_watch
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.phases import minutes_in
from kitchen.floor.queries import standing_events, whole_record
from kitchen.floor.rules import (
    BEGINNINGS,
    LOSSES,
    Tap,
    can_follow,
    check_order,
    check_reading,
    check_tap_time,
    check_temperature,
    deviations_in,
    earliest_out,
    steps_as_taps,
)
from kitchen.floor.running import check_may_run
from kitchen.floor.signals import process_began, process_taken_back
from kitchen.learning.actions import note_load
from kitchen.members.models import User
from kitchen.planning.loads import correct_load_times, hold_load, locked_load, move_load
from kitchen.planning.models import Load, LoadState
from kitchen.reminders.actions import move_due, schedule_for_load

_INCOMPLETE = "The process record is incomplete"
# When the process clock begins and when it ends: what the gauge was to show was believed in between.
_GAUGE_READ = frozenset({EventKind.AT_PRESSURE, EventKind.HEAT_OFF})


@transaction.atomic
def record_event(
    *,
    load: Load,
    kind: EventKind,
    at: datetime,
    actor: User,
    reading_psi: float | None = None,
    initial_temp_f: float | None = None,
    note: str = "",
    corrects: RunEvent | None = None,
    seen: int | None = None,
    now: datetime | None = None,
) -> RunEvent:
    """Write a line of the process record, or correct one by a further line.

    ``seen`` is the newest line (``newest_line``) of the record that the press was shown for: a press that came
    twice is refused with ``AlreadyRecorded``, one that somebody else overtook with ``RecordMovedOn``.

    Refused too: a step out of order (rule S4), a time to come. A fact is never refused for breaking a rule: the
    load goes on hold with the reason (rule S16). At pressure a dial gauge must have been read.
    ``initial_temp_f`` goes with the first step, and is refused with
    another. For jars out use ``jars_out``, for the watch ``handing_over.hand_over``.
    """
    check_may_run(actor, load)
    now = now or timezone.now()
    load = locked_load(load.pk)
    check_seen(load, kind, seen)
    if corrects is None and kind is EventKind.JARS_OUT:
        raise OutOfOrder("Jars out is recorded with its own button.", remedy="Use “jars out”.")
    if corrects is None and load.state not in (LoadState.PLANNED, LoadState.RUNNING):
        raise OutOfOrder(
            f"Load {load} is {load.get_state_display().lower()}.", remedy="Correct the line that is wrong."
        )
    check_correction(load, kind, corrects)
    check_tap_time(load, at, now)
    check_temperature(kind, initial_temp_f)
    check_reading(load.canner, kind, reading_psi)
    new = Tap(kind=kind, at=at, reading_psi=reading_psi, initial_temp_f=initial_temp_f)
    _check_chain(load, [*_taps(load, without=corrects), new])
    event = write_line(load, new, actor, now, note=note, corrects=corrects)
    if kind is EventKind.LOADED and load.state == LoadState.PLANNED:
        move_load(load=load, state=LoadState.RUNNING, at=at, actor=actor)
    _look_again(load, new, actor, is_correction=corrects is not None)
    _follow(load, actor)
    if kind in BEGINNINGS:
        process_began.send(sender=Load, load=load, actor=actor, at=now)
    return event


@transaction.atomic
def withdraw_event(*, event: RunEvent, actor: User, note: str, now: datetime | None = None) -> RunEvent:
    """Say that a line was written by mistake. It stays readable, and counts no more.

    Taking back that pressure or boil was lost would take back the restart of the clock, so the jars go on hold
    until a lead has decided (rules S6 and S16). Refused for jars out: its reminders are written down; correct its
    time instead.
    """
    load = locked_load(event.load_id)
    check_may_run(actor, load)
    now = now or timezone.now()
    if event.kind == EventKind.JARS_OUT:
        raise AlreadyDecided("Jars out cannot be taken back.", remedy="Correct its time instead.")
    check_correction(load, EventKind(event.kind), event)
    _check_chain(load, _taps(load, without=event))
    tap = Tap(kind=EventKind(event.kind), at=event.at)
    withdrawal = write_line(
        load, tap, actor, now, note=note, corrects=event, withdraws=True, taken_by=event.taken_by
    )
    if event.kind in LOSSES:
        lost_at = event.at.astimezone(load.harvest_day.kitchen.zone)
        told = (
            f"“{tap.kind.label}” at {lost_at:%H:%M} was taken back, and with it the restart (rule S6): {note}"
        )
        hold_load(load=load, deviations=[told], actor=actor)
    _follow(load, actor)
    if event.kind in BEGINNINGS:
        process_taken_back.send(sender=Load, load=load, actor=actor, at=now)
    return withdrawal


@transaction.atomic
def jars_out(
    *,
    load: Load,
    at: datetime,
    actor: User,
    deviation: str = "",
    seen: int | None = None,
    now: datetime | None = None,
) -> Load:
    """Record when a load's jars came out, and write down its reminders in the same transaction.

    Refused with ``TooEarly`` before heat off, cool-down and rest are over (rules S4, S5), and with
    ``OutOfOrder`` when the record before it is incomplete, unless ``deviation`` says what happened: then the
    jars go on hold (rule S16). ``seen`` is as for ``record_event``.
    """
    check_may_run(actor, load)
    now = now or timezone.now()
    load = locked_load(load.pk)
    check_seen(load, EventKind.JARS_OUT, seen)
    if load.state not in (LoadState.PLANNED, LoadState.RUNNING):
        raise AlreadyDecided(
            f"Load {load} is {load.get_state_display().lower()}.", remedy="Correct the recorded time instead."
        )
    check_tap_time(load, at, now)
    before = _taps(load)
    tap = Tap(kind=EventKind.JARS_OUT, at=at)
    told = _told_deviations(load, before, tap, deviation.strip())
    write_line(load, tap, actor, now, note=deviation.strip())
    load = move_load(
        load=load, state=LoadState.OUT, at=at, actor=actor, process_ended_at=_process_end(before)
    )
    hold_load(load=load, deviations=[*told, *deviations_in(load, [*before, tap])], actor=actor)
    schedule_for_load(load=load, jars_out_at=at)
    _learn(load, [*before, tap], actor)
    return load


@transaction.atomic
def measure_load(*, load: Load) -> bool:
    """Note anew what the record of a finished load says of its phases; False when nobody wrote a record.

    For loads that finished before measured times were noted. Whoever took the jars out is named for it.
    """
    load = locked_load(load.pk)
    record_lines = standing_events(load)
    if not record_lines:
        return False
    _learn(load, _taps(load), record_lines[-1].recorded_by)
    return True


def _look_again(load: Load, tap: Tap, actor: User, *, is_correction: bool) -> None:
    """At what the plan took for granted: canner, process and watch as the jars go in, the gauge while it is read."""
    if tap.kind is EventKind.LOADED and not is_correction:
        # Every time: after a first line was taken back, hours may have passed.
        look_at_canner(load, tap.at, actor)
        look_at_process(load, actor)
        look_at_watch(load, tap.at, actor)
    elif tap.kind in _GAUGE_READ:
        look_at_gauge(load, tap, actor)


def _taps(load: Load, without: RunEvent | None = None) -> list[Tap]:
    return steps_as_taps(whole_record(load), without)


def _check_chain(load: Load, taps: Sequence[Tap]) -> None:
    """The steps in the order of the clock.

    A load taken out with gaps in its record may keep the gap before that.
    """
    ordered = sorted(taps, key=lambda tap: tap.at)
    if ordered and ordered[-1].kind is EventKind.JARS_OUT and _INCOMPLETE in load.deviation:
        ordered.pop()
    check_order(load.canner, ordered)


def _told_deviations(load: Load, before: Sequence[Tap], tap: Tap, told: str) -> list[str]:
    """What is out of order or too early, each refused unless the operator says what happened."""
    found: list[str] = []
    chain = [*before, tap]
    if [one.kind for one in sorted(chain, key=lambda one: one.at)] != [
        one.kind for one in chain
    ] or not can_follow(load.canner, chain):
        if not told:
            check_order(load.canner, sorted(chain, key=lambda one: one.at))
        found.append(f"{_INCOMPLETE}: {told}")
    earliest = earliest_out(load, _process_end(before))
    if tap.at < earliest:
        if not told:
            zone = load.harvest_day.kitchen.zone
            raise TooEarly(
                f"The cool-down and rest of this load end at {earliest.astimezone(zone):%H:%M} (rules S4 and S5).",
                remedy="Wait. If the jars are out already, say what happened: they go on hold.",
                earliest=earliest,
            )
        early = _minutes_early(tap.at, earliest)
        found.append(f"Jars came out {early} minutes before cool-down and rest were over: {told}")
    if told and not found:
        found.append(told)
    return found


def _minutes_early(at: datetime, earliest: datetime) -> int:
    """Rounded up: a part of a minute too early is too early."""
    return -((at - earliest) // timedelta(minutes=1))


def _process_end(taps: Sequence[Tap]) -> datetime | None:
    return max((tap.at for tap in taps if tap.kind is EventKind.HEAT_OFF), default=None)


def _follow(load: Load, actor: User) -> None:
    """Let the load follow its record: deviations, and times that a correction changed."""
    taps = _taps(load)
    hold_load(load=load, deviations=deviations_in(load, taps), actor=actor)
    if load.state != LoadState.OUT:
        return
    _learn(load, taps, actor)
    out = max(tap.at for tap in taps if tap.kind is EventKind.JARS_OUT)
    ended = _process_end(taps)
    if (out, ended) == (load.jars_out_at, load.process_ended_at):
        return
    correct_load_times(load=load, jars_out_at=out, process_ended_at=ended, actor=actor)
    earliest = earliest_out(load, ended)
    if out < earliest:
        # With the minutes: jars released at one minute are not released at ten.
        early = _minutes_early(out, earliest)
        told = f"Jars came out {early} minutes before cool-down and rest were over."
        hold_load(load=load, deviations=[told], actor=actor)
    move_due(load=load, jars_out_at=out)


def _learn(load: Load, taps: Sequence[Tap], actor: User) -> None:
    """Let what the record says of the load's phases be learned from."""
    took = phases_took(load, minutes_in(load.canner, taps))
    note_load(load_id=load.pk, canner=load.canner, on=load.harvest_day.date, times=took, actor=actor)
