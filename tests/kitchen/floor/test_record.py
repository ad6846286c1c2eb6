"""Writing and correcting the process record, and what in it puts jars on hold (rules S4, S6 and S16)."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from kitchen.audit.queries import about
from kitchen.batches.models import Batch
from kitchen.equipment.actions import record_gauge_check, take_out_of_service
from kitchen.equipment.models import Canner, GaugeCheck
from kitchen.errors import AlreadyDecided, BadTime, NotAllowed, OutOfOrder
from kitchen.floor.actions import record_event, withdraw_event
from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.queries import standing_events, whole_record
from kitchen.floor.rules import Tap, deviations_in, next_kinds
from kitchen.members.actions import change_site
from kitchen.members.models import CannerTraining
from kitchen.planning.loads import hold_load
from kitchen.planning.models import LoadPortion, LoadState
from kitchen.rota.models import Shift
from kitchen.seals.actions import decide_hold
from kitchen.seals.models import HoldOutcome
from scheduler.canner_kind import CannerKind
from scheduler.jars import JarSize, Pack
from scheduler.process import find_processes
from tests.factories.canner_runs import BEAN_TAPS, Run, make_applesauce_run, make_bean_run
from tests.factories.sites import make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def run() -> Run:
    return make_bean_run(make_site())


def tap_until(run: Run, last: EventKind) -> None:
    """The planned steps up to and with this one."""
    for kind, minutes in BEAN_TAPS:
        run.tap(kind, minutes)
        if kind is last:
            return


def test_loading_starts_the_load(run: Run) -> None:
    event = run.tap(EventKind.LOADED, 5)
    assert run.fresh().state == LoadState.RUNNING
    assert about(event).get().actor == run.site.operator
    assert next_kinds(run.load.canner, standing_events(run.load)) == [EventKind.STEADY_STEAM]


def test_a_run_by_the_plan_holds_nothing(run: Run) -> None:
    tap_until(run, EventKind.LID_OFF)
    assert (run.fresh().on_hold, run.fresh().deviation) == (False, "")


def test_a_step_out_of_order_is_refused_and_not_kept(run: Run) -> None:
    run.tap(EventKind.LOADED, 5)
    with pytest.raises(OutOfOrder):
        run.tap(EventKind.HEAT_OFF, 57)
    assert RunEvent.objects.count() == 1


def test_a_forgotten_step_is_written_in_between(run: Run) -> None:
    """Order is by when it happened, not by when it was written."""
    tap_until(run, EventKind.WEIGHT_ON)
    with pytest.raises(OutOfOrder):
        run.tap(EventKind.HEAT_OFF, 57)
    record_event(
        load=run.load, kind=EventKind.AT_PRESSURE, at=run.at(32), actor=run.site.operator, now=run.at(58)
    )
    run.tap(EventKind.HEAT_OFF, 57)
    assert [event.kind for event in standing_events(run.load)] == [kind for kind, _ in BEAN_TAPS[:5]]


def test_a_time_to_come_or_of_another_week_is_refused(run: Run) -> None:
    for at, now in ((run.at(5), run.at(2)), (run.at(5) - timedelta(days=7), run.at(5))):
        with pytest.raises(BadTime):
            record_event(load=run.load, kind=EventKind.LOADED, at=at, actor=run.site.operator, now=now)


def test_no_time_ahead_of_the_kitchens_clock_is_taken(run: Run) -> None:
    """A minute ahead at heat off would be a minute less of process."""
    tap_until(run, EventKind.AT_PRESSURE)
    with pytest.raises(BadTime, match="The kitchen's clock says 09:56"):
        record_event(
            load=run.load, kind=EventKind.HEAT_OFF, at=run.at(57), actor=run.site.operator, now=run.at(56)
        )


def test_a_member_writes_nothing(run: Run) -> None:
    with pytest.raises(NotAllowed):
        record_event(load=run.load, kind=EventKind.LOADED, at=run.at(5), actor=run.site.member, now=run.at(5))


def test_jars_out_has_its_own_action(run: Run) -> None:
    tap_until(run, EventKind.LID_OFF)
    with pytest.raises(OutOfOrder, match="its own button"):
        run.tap(EventKind.JARS_OUT, 117)


def test_heat_off_a_minute_early_puts_the_jars_on_hold(run: Run) -> None:
    tap_until(run, EventKind.AT_PRESSURE)
    run.tap(EventKind.HEAT_OFF, 56)
    load = run.fresh()
    assert (load.on_hold, load.deviation) == (True, "Processed 24 of 25 minutes (rule S6).")


def test_pressure_lost_restarts_the_clock(run: Run) -> None:
    """Lost after 20 minutes and won again at 55: the full 25 run from there."""
    tap_until(run, EventKind.AT_PRESSURE)
    run.tap(EventKind.PRESSURE_LOST, 52)
    run.tap(EventKind.AT_PRESSURE, 55)
    run.tap(EventKind.HEAT_OFF, 79)
    assert run.fresh().deviation == "Processed 24 of 25 minutes (rule S6)."


def test_pressure_lost_and_processed_in_full_holds_nothing(run: Run) -> None:
    tap_until(run, EventKind.AT_PRESSURE)
    run.tap(EventKind.PRESSURE_LOST, 52)
    run.tap(EventKind.AT_PRESSURE, 55)
    run.tap(EventKind.HEAT_OFF, 80)
    assert not run.fresh().on_hold


def test_heat_off_while_pressure_is_lost_holds(run: Run) -> None:
    tap_until(run, EventKind.AT_PRESSURE)
    run.tap(EventKind.PRESSURE_LOST, 60)
    run.tap(EventKind.HEAT_OFF, 62)
    assert "while pressure or boil was lost" in run.fresh().deviation


def test_a_lost_boil_restarts_the_clock_too() -> None:
    run = make_applesauce_run(make_site())
    run.tap(EventKind.LOADED, 5)
    run.tap(EventKind.FULL_BOIL, 25)
    run.tap(EventKind.BOIL_LOST, 40)
    run.tap(EventKind.FULL_BOIL, 43)
    run.tap(EventKind.HEAT_OFF, 62)
    assert run.fresh().deviation == "Processed 19 of 20 minutes (rule S6)."


def test_a_short_vent_holds(run: Run) -> None:
    run.tap(EventKind.LOADED, 5)
    run.tap(EventKind.STEADY_STEAM, 17)
    run.tap(EventKind.WEIGHT_ON, 26)
    assert run.fresh().deviation == "Vented 9 of 10 minutes (rule S4)."


def test_a_reading_below_the_target_holds(run: Run) -> None:
    tap_until(run, EventKind.WEIGHT_ON)
    run.tap(EventKind.AT_PRESSURE, 32, reading_psi=14.5)
    assert run.fresh().deviation == "The gauge showed 14.5 lb where 15 lb are needed (rule S6)."


def test_a_correction_leaves_the_wrong_line_readable(run: Run) -> None:
    wrong = run.tap(EventKind.LOADED, 5)
    right = record_event(
        load=run.load,
        kind=EventKind.LOADED,
        at=run.at(4),
        actor=run.site.operator,
        corrects=wrong,
        now=run.at(6),
    )
    assert standing_events(run.load) == [right]
    assert whole_record(run.load) == [wrong, right]
    with pytest.raises(AlreadyDecided, match="newest line"):
        record_event(
            load=run.load,
            kind=EventKind.LOADED,
            at=run.at(3),
            actor=run.site.operator,
            corrects=wrong,
            now=run.at(6),
        )


def test_a_correction_cannot_put_the_record_out_of_order(run: Run) -> None:
    tap_until(run, EventKind.WEIGHT_ON)
    steam = standing_events(run.load)[1]
    with pytest.raises(OutOfOrder):
        record_event(
            load=run.load,
            kind=EventKind.STEADY_STEAM,
            at=run.at(28),
            actor=run.site.operator,
            corrects=steam,
            now=run.at(30),
        )


def test_a_line_of_another_load_is_not_corrected_here(run: Run) -> None:
    other = make_applesauce_run(make_site()).tap(EventKind.LOADED, 5)
    with pytest.raises(OutOfOrder, match="another load"):
        record_event(
            load=run.load,
            kind=EventKind.LOADED,
            at=run.at(5),
            actor=run.site.operator,
            corrects=other,
            now=run.at(5),
        )


def test_a_line_written_by_mistake_is_withdrawn_and_stays_readable(run: Run) -> None:
    tap_until(run, EventKind.STEADY_STEAM)
    wrong = run.tap(EventKind.WEIGHT_ON, 27)
    withdrawal = withdraw_event(event=wrong, actor=run.site.operator, note="Wrong button", now=run.at(28))
    assert wrong not in standing_events(run.load)
    assert whole_record(run.load)[-2:] == [wrong, withdrawal]
    run.tap(EventKind.WEIGHT_ON, 29)
    assert not run.fresh().on_hold


def test_a_restart_is_not_got_round_by_taking_the_loss_back(run: Run) -> None:
    """Rule S6: without “pressure lost” the old clock runs on, so a lead decides about the jars."""
    tap_until(run, EventKind.AT_PRESSURE)
    lost = run.tap(EventKind.PRESSURE_LOST, 40)
    withdraw_event(event=lost, actor=run.site.operator, note="Wrong button", now=run.at(41))
    assert run.fresh().on_hold
    assert run.fresh().deviation == (
        "“Pressure lost” at 09:40 was taken back, and with it the restart (rule S6): Wrong button"
    )


def test_after_a_loss_nothing_goes_on_but_pressure_or_a_hold(run: Run) -> None:
    tap_until(run, EventKind.AT_PRESSURE)
    run.tap(EventKind.PRESSURE_LOST, 40)
    assert next_kinds(run.load.canner, standing_events(run.load)) == [
        EventKind.AT_PRESSURE,
        EventKind.HEAT_OFF,
    ]
    for kind in (EventKind.ZERO_PRESSURE, EventKind.LID_OFF, EventKind.PRESSURE_LOST):
        with pytest.raises(OutOfOrder):
            run.tap(kind, 50)
    with pytest.raises(OutOfOrder, match="cannot follow"):
        run.take_out(110)
    run.tap(EventKind.HEAT_OFF, 60)
    assert run.fresh().on_hold


def test_a_loss_cannot_be_corrected_into_another_step_or_out_of_the_process(run: Run) -> None:
    tap_until(run, EventKind.AT_PRESSURE)
    lost = run.tap(EventKind.PRESSURE_LOST, 50)
    for kind, minutes in ((EventKind.HEAT_OFF, 57), (EventKind.PRESSURE_LOST, 31)):
        with pytest.raises(OutOfOrder):
            record_event(
                load=run.load,
                kind=kind,
                at=run.at(minutes),
                actor=run.site.operator,
                corrects=lost,
                now=run.at(58),
            )
    assert standing_events(run.load)[-1] == lost


def test_a_line_that_others_rest_on_is_not_withdrawn(run: Run) -> None:
    tap_until(run, EventKind.WEIGHT_ON)
    with pytest.raises(OutOfOrder):
        withdraw_event(event=standing_events(run.load)[1], actor=run.site.operator, note="", now=run.at(30))


def test_a_hold_is_not_lifted_by_a_correction(run: Run) -> None:
    """Only a lead lifts it (rule S16)."""
    tap_until(run, EventKind.AT_PRESSURE)
    early = run.tap(EventKind.HEAT_OFF, 56)
    record_event(
        load=run.load,
        kind=EventKind.HEAT_OFF,
        at=run.at(57),
        actor=run.site.operator,
        corrects=early,
        now=run.at(58),
    )
    assert run.fresh().on_hold


def on_the_dial(run: Run, error_psi: str) -> Run:
    """The load moved to the dial canner, whose gauge was checked since: planned for 12 lb on a true gauge."""
    run.load.canner = run.site.dial
    run.load.pressure_psi = run.load.target_reading_psi = 12
    run.load.save()
    kind, altitude_ft = CannerKind(run.site.dial.kind), run.site.kitchen.altitude_ft
    process, *_ = find_processes("snap_beans", Pack.RAW, JarSize.QUART, kind, altitude_ft)
    LoadPortion.objects.filter(pk=run.portion.pk).update(process_key=process.key)
    check_gauge(run, error_psi)
    return run


def check_gauge(run: Run, error_psi: str) -> None:
    record_gauge_check(
        canner=run.site.dial,
        checked_on=run.day.date,
        error_psi=Decimal(error_psi),
        checked_by="Office",
        actor=run.site.operator,
        now=run.at(0),
    )


def test_a_gauge_checked_since_the_plan_corrects_the_reading(run: Run) -> None:
    """Rule S8: off by 1.5 lb, so 13.5 must show."""
    on_the_dial(run, "1.5").tap(EventKind.LOADED, 5)
    assert (run.fresh().target_reading_psi, run.fresh().on_hold) == (13.5, False)
    run.tap(EventKind.STEADY_STEAM, 17)
    run.tap(EventKind.WEIGHT_ON, 27)
    run.tap(EventKind.AT_PRESSURE, 32, reading_psi=12)
    assert run.fresh().deviation == "The gauge showed 12 lb where 13.5 lb are needed (rule S6)."


def test_a_gauge_that_reads_low_lowers_nothing(run: Run) -> None:
    on_the_dial(run, "-1.5").tap(EventKind.LOADED, 5)
    assert run.fresh().target_reading_psi == 12


def test_loading_a_canner_out_of_service_holds(run: Run) -> None:
    on_the_dial(run, "2.5").tap(EventKind.LOADED, 5)
    load = run.fresh()
    assert (load.state, load.on_hold) == (LoadState.RUNNING, True)
    assert "out of service (rule S8)" in load.deviation


def test_a_canner_taken_out_of_service_after_a_line_taken_back_holds(run: Run) -> None:
    """The first line was a slip: when the heat really goes on, the canner is looked at again (rule S8)."""
    slip = run.tap(EventKind.LOADED, 5)
    withdraw_event(event=slip, actor=run.site.operator, note="Not yet", now=run.at(6))
    take_out_of_service(canner=run.load.canner, reason="The gasket leaks", actor=run.site.operator)
    run.tap(EventKind.LOADED, 30)
    assert "out of service (rule S8)" in run.fresh().deviation


@pytest.mark.parametrize(
    ("reading_psi", "told"),
    [
        (12, "The gauge showed 12 lb where 13.5 lb are needed (rule S6)."),
        (13.5, ""),
    ],
)
def test_a_gauge_found_high_after_the_heat_went_on_raises_the_reading(
    run: Run, reading_psi: float, told: str
) -> None:
    on_the_dial(run, "0").tap(EventKind.LOADED, 5)
    check_gauge(run, "1.5")
    run.tap(EventKind.STEADY_STEAM, 17)
    run.tap(EventKind.WEIGHT_ON, 27)
    run.tap(EventKind.AT_PRESSURE, 32, reading_psi=reading_psi)
    load = run.fresh()
    assert (load.target_reading_psi, load.deviation, load.on_hold) == (13.5, told, bool(told))


@pytest.mark.parametrize(
    ("error_psi", "told"),
    [
        ("1.5", "13.5 lb are needed, not 12 lb (rule S8)"),
        ("2.5", "Run while the canner was out of service (rule S8)"),
        ("-1", ""),
    ],
)
def test_a_gauge_found_wrong_during_the_process_holds(run: Run, error_psi: str, told: str) -> None:
    on_the_dial(run, "0")
    tap_until(run, EventKind.WEIGHT_ON)
    run.tap(EventKind.AT_PRESSURE, 32, reading_psi=12)
    check_gauge(run, error_psi)
    run.tap(EventKind.HEAT_OFF, 57)
    assert told in run.fresh().deviation
    assert run.fresh().on_hold == bool(told)


def test_heat_with_nobody_trained_holds(run: Run) -> None:
    """A training that no longer counts on the day, and nobody else put down to watch (rule S9)."""
    expired = run.day.date - timedelta(days=1)
    CannerTraining.objects.filter(membership__user=run.site.operator).update(expires_on=expired)
    run.tap(EventKind.LOADED, 5)
    assert run.fresh().deviation == "Heat went on with no trained person named at the canner (rule S9)."


def test_a_trained_person_on_the_rota_watches_whoever_taps(run: Run) -> None:
    CannerTraining.objects.filter(membership__user=run.site.operator).delete()
    Shift.objects.create(
        harvest_day=run.day,
        user=run.site.lead,
        station="canner",
        load=run.load,
        starts_at=run.at(5),
        ends_at=run.at(57),
    )
    run.tap(EventKind.LOADED, 5)
    assert not run.fresh().on_hold


@pytest.mark.parametrize("kind", [CannerKind.DIAL, CannerKind.BOILING_WATER, CannerKind.STEAM])
def test_loading_a_canner_that_became_another_kind_holds(run: Run, kind: CannerKind) -> None:
    """The gauge was replaced since the plan: 15 lb by weight is no process for a dial (rule S1)."""
    Canner.objects.filter(pk=run.load.canner_id).update(kind=kind)
    GaugeCheck.objects.create(
        canner=run.load.canner,
        checked_on=run.day.date,
        error_psi=0,
        checked_by="Office",
        recorded_by=run.site.operator,
    )
    run.tap(EventKind.LOADED, 5)
    assert f"not for a {kind.words}" in run.fresh().deviation


def test_a_new_deviation_holds_although_its_letters_stand_in_an_old_one(run: Run) -> None:
    tap_until(run, EventKind.STEADY_STEAM)
    run.tap(EventKind.WEIGHT_ON, 26)
    decide_hold(load=run.load, outcome=HoldOutcome.RELEASED, by=run.site.lead, reason="Seen")
    hold_load(load=run.fresh(), deviations=["9 of 10"], actor=run.site.operator)
    assert run.fresh().on_hold
    assert run.fresh().deviation.splitlines() == ["Vented 9 of 10 minutes (rule S4).", "9 of 10"]


def test_the_rest_counts_from_zero_pressure(run: Run) -> None:
    """Down only at 120 where 102 was planned: the lid stays on to 130 (rule S4)."""
    tap_until(run, EventKind.HEAT_OFF)
    run.tap(EventKind.ZERO_PRESSURE, 120)
    run.tap(EventKind.LID_OFF, 129)
    assert run.fresh().deviation == "Rested 9 of 10 minutes after zero pressure (rule S4)."
    assert run.fresh().on_hold


def test_loading_after_the_altitude_was_corrected_holds() -> None:
    """Applesauce in pints: 20 min at 2,450 ft, 25 above 3,000 (USDA AIB 539, Guide 2)."""
    run = make_applesauce_run(make_site())
    zone = run.site.kitchen.time_zone
    change_site(kitchen=run.site.kitchen, altitude_ft=3001, time_zone=zone, actor=run.site.lead)
    run.tap(EventKind.LOADED, 5)
    assert run.fresh().on_hold
    assert run.fresh().deviation == (
        "Loaded for a process out of date (rule S1): 20 min is not published for 3,001 ft."
    )


@pytest.mark.parametrize(
    ("after_heat_off", "told"),
    [
        (19, "At zero pressure 19 minutes after heat off, 20 at the least (rule S5)."),
        (20, ""),
    ],
)
def test_a_canner_that_comes_down_too_soon_was_forced(run: Run, after_heat_off: int, told: str) -> None:
    tap_until(run, EventKind.HEAT_OFF)
    heat_off = dict(BEAN_TAPS)[EventKind.HEAT_OFF]
    run.tap(EventKind.ZERO_PRESSURE, heat_off + after_heat_off)
    assert (run.fresh().deviation, run.fresh().on_hold) == (told, bool(told))


@pytest.mark.parametrize(
    ("jar", "after_heat_off", "least"),
    [("quart", 44, 45), ("quart", 45, None), ("pint", 29, 30), ("pint", 30, None)],
)
def test_a_heavy_walled_canner_takes_longer_with_quarts(
    run: Run, jar: str, after_heat_off: int, least: int | None
) -> None:
    """USDA AIB 539 (1994): 30 minutes with pints, 45 with quarts."""
    Canner.objects.filter(pk=run.load.canner_id).update(heavy_walled=True)
    Batch.objects.filter(pk=run.portion.batch_id).update(jar=jar)
    load = run.fresh()
    heat_off = dict(BEAN_TAPS)[EventKind.HEAT_OFF]
    taps = [
        Tap(kind=EventKind.HEAT_OFF, at=run.at(heat_off)),
        Tap(kind=EventKind.ZERO_PRESSURE, at=run.at(heat_off + after_heat_off)),
    ]
    told = [one for one in deviations_in(load, taps) if "zero pressure" in one]
    assert told == (
        []
        if least is None
        else [f"At zero pressure {after_heat_off} minutes after heat off, {least} at the least (rule S5)."]
    )
