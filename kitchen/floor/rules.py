"""What may follow what at a canner (rule S4), and what in the record broke a rule (rule S16)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from kitchen.batches.models import Jar
from kitchen.equipment.models import Canner, CannerKind, GaugeCheck
from kitchen.errors import AlreadyDecided, BadReading, BadTime, OutOfOrder
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import steps_of
from kitchen.members.models import User
from kitchen.members.rules import check_trained
from kitchen.planning.models import Load

# A guard against slips of typing: nothing of a load happens further from its day.
FURTHEST_FROM_DAY = timedelta(hours=36)
# Steam flows for 10 minutes before the weight goes on. USDA AIB 539, Using Pressure Canners.
VENT_MINUTES = 10
# Two people at the canner while the watch changes hands. Common practice, no source; the rota keeps to it too.
HAND_OVER_MINUTES = 10
# Water in an open jar is between ice and boiling.
FREEZING_F, BOILING_F = 32, 212
# From zero pressure to unfastening the lid. NCHFP and the step list adapted from USDA AIB 539 (2015).
REST_MINUTES = 10

# Cooling before unloading takes 20 to 60 minutes; a heavy-walled canner 30 with pints and smaller jars, 45 with
# larger ones. USDA AIB 539 (1994), Recommended Canners.
LEAST_COOL_DOWN_MINUTES = 20
HEAVY_WALLED_PINT_COOL_DOWN_MINUTES = 30
HEAVY_WALLED_QUART_COOL_DOWN_MINUTES = 45
_LARGER_THAN_PINTS = (Jar.PINT_AND_HALF, Jar.QUART, Jar.HALF_GALLON)

# None stands for a load of which nothing is recorded yet.
VALID_NEXT_PRESSURE: dict[EventKind | None, frozenset[EventKind]] = {
    None: frozenset({EventKind.LOADED}),
    EventKind.LOADED: frozenset({EventKind.STEADY_STEAM}),
    EventKind.STEADY_STEAM: frozenset({EventKind.WEIGHT_ON}),
    EventKind.WEIGHT_ON: frozenset({EventKind.AT_PRESSURE}),
    EventKind.AT_PRESSURE: frozenset({EventKind.PRESSURE_LOST, EventKind.HEAT_OFF}),
    EventKind.PRESSURE_LOST: frozenset({EventKind.AT_PRESSURE, EventKind.HEAT_OFF}),
    EventKind.HEAT_OFF: frozenset({EventKind.ZERO_PRESSURE}),
    EventKind.ZERO_PRESSURE: frozenset({EventKind.LID_OFF}),
    EventKind.LID_OFF: frozenset({EventKind.JARS_OUT}),
    EventKind.JARS_OUT: frozenset(),
}
VALID_NEXT_BOILING: dict[EventKind | None, frozenset[EventKind]] = {
    None: frozenset({EventKind.LOADED}),
    EventKind.LOADED: frozenset({EventKind.FULL_BOIL}),
    EventKind.FULL_BOIL: frozenset({EventKind.BOIL_LOST, EventKind.HEAT_OFF}),
    EventKind.BOIL_LOST: frozenset({EventKind.FULL_BOIL, EventKind.HEAT_OFF}),
    EventKind.HEAT_OFF: frozenset({EventKind.LID_OFF, EventKind.JARS_OUT}),
    EventKind.LID_OFF: frozenset({EventKind.JARS_OUT}),
    EventKind.JARS_OUT: frozenset(),
}

BEGINNINGS = frozenset({EventKind.AT_PRESSURE, EventKind.FULL_BOIL})
"""From these the clock of the process runs."""

LOSSES = frozenset({EventKind.PRESSURE_LOST, EventKind.BOIL_LOST})
"""After these the clock begins anew (rule S6)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tap:
    """A line of the record as far as the rules look at it."""

    kind: EventKind
    at: datetime
    reading_psi: float | None = None
    initial_temp_f: float | None = None


def valid_next(canner: Canner) -> dict[EventKind | None, frozenset[EventKind]]:
    """The order table of this canner's kind."""
    return VALID_NEXT_PRESSURE if canner.is_pressure else VALID_NEXT_BOILING


def next_kinds(canner: Canner, record: Sequence[RunEvent]) -> list[EventKind]:
    """What the operator may tap next, in the order of the cycle."""
    last = EventKind(record[-1].kind) if record else None
    follows = valid_next(canner)[last]
    return [kind for kind in EventKind if kind in follows]


def check_order(canner: Canner, taps: Sequence[Tap]) -> None:
    """Refuse a record in which a step does not follow the one before it (rule S4)."""
    table = valid_next(canner)
    last: EventKind | None = None
    for tap in taps:
        if tap.kind not in table[last]:
            expected = (
                " or ".join(kind.label.lower() for kind in EventKind if kind in table[last]) or "nothing"
            )
            after = last.label.lower() if last else "the beginning"
            raise OutOfOrder(
                f"“{tap.kind.label}” cannot follow {after}.",
                remedy=f"Expected: {expected}. Record a step that was forgotten with the time it happened.",
            )
        last = tap.kind


def can_follow(canner: Canner, taps: Sequence[Tap]) -> bool:
    """True when ``check_order`` refuses nothing."""
    try:
        check_order(canner, taps)
    except OutOfOrder:
        return False
    return True


def check_tap_time(load: Load, at: datetime, now: datetime) -> None:
    """Refuse a time in the future, or one that cannot belong to the load's day."""
    if at.tzinfo is None:
        raise BadTime("A time without a time zone cannot be recorded.", remedy="Give an aware time.")
    # No allowance for a tablet's clock: heat off two minutes ahead would be two minutes less of process.
    if at > now:
        clock = now.astimezone(load.harvest_day.kitchen.zone)
        raise BadTime(
            "This time is still to come.",
            remedy=f"The kitchen's clock says {clock:%H:%M}. Record what has happened, when it has happened.",
        )
    day = load.harvest_day
    if not day.opens_at - FURTHEST_FROM_DAY <= at <= day.closes_at + FURTHEST_FROM_DAY:
        raise BadTime(f"This time does not belong to {day}.", remedy="Check the date.")


def wall_moment(shown: datetime, zone: tzinfo) -> datetime:
    """The moment at which the kitchen's clock showed this. Refused: what it showed twice or never, as it was changed.

    Taken for the first of two hours, a process would look an hour longer than it was.
    """
    first, second = (shown.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() == second.utcoffset():
        return first
    raise BadTime(
        f"The clocks were changed at {shown:%H:%M}: that hour came twice, or not at all.",
        remedy="Give a time before or after that hour, and say in a remark when it was.",
    )


def check_temperature(kind: EventKind, initial_temp_f: float | None) -> None:
    """Refuse an initial temperature with any step but the first, and one that food in a jar does not have, in °F."""
    if initial_temp_f is None:
        return
    if kind is not EventKind.LOADED:
        raise OutOfOrder(
            f"“{kind.label}” has no initial temperature.",
            remedy="It belongs to “Loaded, heat on”: that of the food in the coldest jar.",
        )
    if not FREEZING_F <= initial_temp_f <= BOILING_F:
        raise BadReading(
            f"{initial_temp_f:g} °F cannot be: food in a jar is between {FREEZING_F} and {BOILING_F} °F.",
            remedy="Read the thermometer again.",
        )


def check_reading(canner: Canner, kind: EventKind, reading_psi: float | None) -> None:
    """Refuse "at pressure" of a dial gauge that nobody read: that pressure was there is only what the dial showed
    (rules S6 and S8), and what a gauge found to read high later is held against.
    """
    if canner.kind == CannerKind.DIAL and kind is EventKind.AT_PRESSURE and reading_psi is None:
        raise BadReading(
            "The gauge was not read: “At pressure” was not recorded.",
            remedy="Write down what the dial shows, in lb, then tap again.",
        )


def check_hand_over(load: Load, at: datetime, steps: Sequence[Tap], last: RunEvent | None, to: User) -> None:
    """Refuse a hand-over while nobody need watch (rule S9: from heat on to heat off), to whoever took over last, or to
    somebody without a training that counts on the day.

    ``last`` is the newest hand-over before it.
    """
    heat_on = min((tap.at for tap in steps if tap.kind is EventKind.LOADED), default=None)
    heat_off = max((tap.at for tap in steps if tap.kind is EventKind.HEAT_OFF), default=None)
    if heat_on is None or at < heat_on or (heat_off is not None and at >= heat_off):
        raise OutOfOrder(
            f"The heat under load {load} was not on at this time: there is no watch to hand over.",
            remedy="A canner is watched from heat on to heat off (rule S9).",
        )
    if last is not None and last.taken_by_id == to.pk:
        raise AlreadyDecided(f"{to} has the watch already.", remedy="Nothing was written.")
    check_trained(to, load.harvest_day.kitchen, load.harvest_day.date)


def steps_as_taps(lines: Sequence[RunEvent], without: RunEvent | None = None) -> list[Tap]:
    """The steps that stand of a record, but for one, as the rules look at them."""
    return [
        Tap(
            kind=EventKind(line.kind),
            at=line.at,
            reading_psi=line.reading_psi,
            initial_temp_f=line.initial_temp_f,
        )
        for line in steps_of(lines)
        if line != without
    ]


def is_between_phases(hand_over: RunEvent, steps: Sequence[RunEvent]) -> bool:
    """Whether a phase ended while both were at the canner, as the rota's own hand-overs have it."""
    together_until = hand_over.at + timedelta(minutes=HAND_OVER_MINUTES)
    return any(hand_over.at <= step.at <= together_until for step in steps)


def earliest_out(load: Load, process_ended_at: datetime | None) -> datetime:
    """When the jars may come out: heat off, then the planned cool-down and rest (rules S4, S5).

    Without a recorded heat-off it is the end of the planned rest.
    """
    phases = {phase.kind: phase for phase in load.phases.all()}
    if process_ended_at is None:
        return phases["rest"].ends_at
    waits = (phases[kind] for kind in ("cool_down", "rest") if kind in phases)
    return process_ended_at + sum((phase.ends_at - phase.starts_at for phase in waits), timedelta())


def deviations_in(load: Load, taps: Sequence[Tap]) -> list[str]:
    """Each rule that the record shows broken, in words, the times to the minute in the kitchen's own zone."""
    return [
        told
        for told in (
            _vent_short(load, taps),
            _process_short(load, taps),
            _reading_low(load, taps),
            _forced_down(load, taps),
            _rest_short(taps),
        )
        if told
    ]


def _vent_short(load: Load, taps: Sequence[Tap]) -> str:
    steam, weight = _last(taps, EventKind.STEADY_STEAM), _last(taps, EventKind.WEIGHT_ON)
    if steam is None or weight is None or weight - steam >= timedelta(minutes=VENT_MINUTES):
        return ""
    return f"Vented {_minutes(weight - steam)} of {VENT_MINUTES} minutes (rule S4)."


def _process_short(load: Load, taps: Sequence[Tap]) -> str:
    """Rule S6: the clock runs anew from the last time that pressure or boil was reached."""
    off = _last(taps, EventKind.HEAT_OFF)
    if off is None:
        return ""
    before = [tap for tap in taps if tap.at <= off and tap.kind != EventKind.HEAT_OFF]
    if before and before[-1].kind in LOSSES:
        return "Heat went off while pressure or boil was lost (rule S6)."
    began = _last(taps, EventKind.AT_PRESSURE if load.canner.is_pressure else EventKind.FULL_BOIL)
    if began is None or off - began >= timedelta(minutes=load.process_minutes):
        return ""
    return f"Processed {_minutes(off - began)} of {load.process_minutes} minutes (rule S6)."


def _reading_low(load: Load, taps: Sequence[Tap]) -> str:
    target = load.target_reading_psi
    if target is None:
        return ""
    readings = [
        tap.reading_psi for tap in taps if tap.kind == EventKind.AT_PRESSURE and tap.reading_psi is not None
    ]
    low = [reading for reading in readings if reading < target]
    return f"The gauge showed {min(low):g} lb where {target:g} lb are needed (rule S6)." if low else ""


def run_low(load: Load, taps: Sequence[Tap], check: GaugeCheck) -> str:
    """What is wrong with a load when its gauge read as high as ``check`` found: empty when the pressure was there.

    What the dial showed counts; where nobody wrote it down, what it was to show. A gauge that reads low lets more
    pressure in, which harms nobody.
    """
    target = load.target_reading_psi
    if load.pressure_psi is None or target is None or check.error_psi <= 0:
        return ""
    shown = [tap.reading_psi for tap in taps if tap.kind == EventKind.AT_PRESSURE]
    least = min((target if reading is None else reading for reading in shown), default=target)
    true_psi = least - float(check.error_psi)
    if true_psi >= load.pressure_psi:
        return ""
    return (
        f"The gauge was found to read {check.error_psi:g} lb high on {check.checked_on:%-d %B %Y}: the {least:g} lb "
        f"that it showed may have been {true_psi:g} lb, where {load.pressure_psi:g} lb are needed (rule S8)."
    )


def _forced_down(load: Load, taps: Sequence[Tap]) -> str:
    """Rule S5: no canner comes down so soon unless its cooling was forced."""
    off, zero = _last(taps, EventKind.HEAT_OFF), _last(taps, EventKind.ZERO_PRESSURE)
    if off is None or zero is None:
        return ""
    least = least_cool_down_minutes(load)
    if zero - off >= timedelta(minutes=least):
        return ""
    return f"At zero pressure {_minutes(zero - off)} minutes after heat off, {least} at the least (rule S5)."


def least_cool_down_minutes(load: Load) -> int:
    """No sooner than this after heat off does the canner come to zero pressure by itself (rule S5)."""
    if not load.canner.heavy_walled:
        return LEAST_COOL_DOWN_MINUTES
    if any(portion.batch.jar in _LARGER_THAN_PINTS for portion in load.portions.all()):
        return HEAVY_WALLED_QUART_COOL_DOWN_MINUTES
    return HEAVY_WALLED_PINT_COOL_DOWN_MINUTES


def _rest_short(taps: Sequence[Tap]) -> str:
    """Rule S4: a canner that took longer to come down rests as long after it as any other."""
    zero, lid = _last(taps, EventKind.ZERO_PRESSURE), _last(taps, EventKind.LID_OFF)
    if zero is None or lid is None or lid - zero >= timedelta(minutes=REST_MINUTES):
        return ""
    return f"Rested {_minutes(lid - zero)} of {REST_MINUTES} minutes after zero pressure (rule S4)."


def _last(taps: Sequence[Tap], kind: EventKind) -> datetime | None:
    return max((tap.at for tap in taps if tap.kind == kind), default=None)


def _minutes(length: timedelta) -> int:
    return int(length / timedelta(minutes=1))
