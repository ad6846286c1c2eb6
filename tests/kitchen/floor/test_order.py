"""Which step may follow which (rule S4), as tables and over whole records."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitchen.equipment.models import Canner, CannerKind
from kitchen.errors import OutOfOrder
from kitchen.floor.models import EventKind
from kitchen.floor.rules import (
    HAND_OVER_MINUTES,
    VALID_NEXT_BOILING,
    VALID_NEXT_PRESSURE,
    VENT_MINUTES,
    Tap,
    can_follow,
    check_order,
    valid_next,
)
from scheduler import cycle
from scheduler.rota.of_plan import HAND_OVER_MINUTES as ROTA_MINUTES
from scheduler.rules.watching import HANDOVER_MINUTES as JUDGE_MINUTES
from tests.factories.canner_runs import APPLESAUCE_TAPS, BEAN_TAPS

NINE = datetime(2026, 9, 12, 15, tzinfo=UTC)
PRESSURE_ONLY = {
    EventKind.STEADY_STEAM,
    EventKind.WEIGHT_ON,
    EventKind.AT_PRESSURE,
    EventKind.PRESSURE_LOST,
    EventKind.ZERO_PRESSURE,
}
BOILING_ONLY = {EventKind.FULL_BOIL, EventKind.BOIL_LOST}
STEPS = {*EventKind} - {EventKind.HAND_OVER}
"""Who attends the canner is no step of its cycle."""


def taps(*kinds: EventKind) -> list[Tap]:
    """These steps, a minute apart."""
    return [Tap(kind=kind, at=NINE + timedelta(minutes=one)) for one, kind in enumerate(kinds)]


def canner(kind: CannerKind) -> Canner:
    """A canner of this kind, nowhere kept."""
    return Canner(name="Pot", kind=kind)


def test_every_step_is_in_its_table_and_in_no_other() -> None:
    assert set(VALID_NEXT_PRESSURE) == {None, *STEPS} - BOILING_ONLY
    assert set(VALID_NEXT_BOILING) == {None, *STEPS} - PRESSURE_ONLY


def test_every_step_can_be_reached_and_jars_out_ends_it() -> None:
    for table in (VALID_NEXT_PRESSURE, VALID_NEXT_BOILING):
        assert frozenset().union(*table.values()) == set(table) - {None}
        assert table[EventKind.JARS_OUT] == frozenset()


def test_the_vent_is_the_planner_s() -> None:
    assert VENT_MINUTES == cycle.VENT_MINUTES


def test_a_hand_over_takes_as_long_as_the_rota_and_the_judge_say() -> None:
    assert HAND_OVER_MINUTES == ROTA_MINUTES == JUDGE_MINUTES


@pytest.mark.parametrize("kind", CannerKind)
def test_a_whole_run_is_in_order(kind: CannerKind) -> None:
    run = BEAN_TAPS if canner(kind).is_pressure else APPLESAUCE_TAPS
    check_order(canner(kind), taps(*(step for step, _ in run), EventKind.JARS_OUT))


@pytest.mark.parametrize("kind", CannerKind)
def test_no_step_but_the_lid_may_be_left_out(kind: CannerKind) -> None:
    run = [step for step, _ in (BEAN_TAPS if canner(kind).is_pressure else APPLESAUCE_TAPS)]
    for skipped in run:
        rest = [step for step in run if step is not skipped]
        assert not can_follow(canner(kind), taps(*rest, EventKind.JARS_OUT))


def test_pressure_may_be_lost_and_won_again() -> None:
    lost = [EventKind.PRESSURE_LOST, EventKind.AT_PRESSURE] * 2
    begun = [step for step, _ in BEAN_TAPS[:4]]
    check_order(canner(CannerKind.DIAL), taps(*begun, *lost, EventKind.HEAT_OFF))


def test_the_refusal_says_what_is_expected() -> None:
    with pytest.raises(OutOfOrder, match=r"“Zero pressure” cannot follow loaded.*Expected: steady steam"):
        check_order(canner(CannerKind.DIAL), taps(EventKind.LOADED, EventKind.ZERO_PRESSURE))


@given(st.sampled_from(CannerKind), st.lists(st.sampled_from(EventKind), max_size=9))
def test_a_record_is_in_order_exactly_when_each_step_follows_the_last(
    kind: CannerKind, steps: list[EventKind]
) -> None:
    table = valid_next(canner(kind))
    pairs = zip([None, *steps], steps, strict=False)
    assert can_follow(canner(kind), taps(*steps)) is all(
        before in table and after in table[before] for before, after in pairs
    )
