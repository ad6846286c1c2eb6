"""Where learned figures enter a plan, and where they do not."""

from __future__ import annotations

import math
from datetime import timedelta
from itertools import pairwise

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kitchen.audit.models import AuditEvent
from kitchen.batches.models import Batch
from kitchen.errors import BadSetting, PlanOutOfDate
from kitchen.floor.actions import record_event
from kitchen.floor.models import EventKind, RunEvent
from kitchen.learning.actions import time_work, withdraw_work
from kitchen.learning.bridge import Figures, _taught_by, csv_of, figures_for
from kitchen.learning.models import MeasuredTime, TimedKind
from kitchen.learning.queries import times_before
from kitchen.members.actions import change_policy
from kitchen.planning.actions import publish_plan
from kitchen.planning.bridge import day_digest, day_of, violations_of
from kitchen.planning.models import DayState, HarvestDay, LoadState
from scheduler.learning import Measured, lesson_of_ratios
from scheduler.pace import Pace
from scheduler.records_file import read_records
from tests.factories.canner_runs import make_beans_out
from tests.factories.measured import measure_canner, measure_work
from tests.factories.sites import DAY, Site, declare, make_open_day, make_site, plan

pytestmark = pytest.mark.django_db

SLOW = [1.5, 1.48, 1.52, 1.51, 1.49, 1.5, 1.47, 1.53]


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    return make_open_day(site)


@pytest.fixture
def batch(site: Site, day: HarvestDay) -> Batch:
    """Seven quarts of raw pack beans."""
    return declare(site, day)


def learned(ratios: list[float], kept_percent: int = 80) -> float:
    return round(lesson_of_ratios(ratios, kept_percent).pace, 3)


def test_a_canners_times_become_its_pace(site: Site, day: HarvestDay, batch: Batch) -> None:
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, SLOW)
    measure_canner(site, site.weighted, TimedKind.COOL_DOWN, SLOW[:3], least_minutes=20)
    measure_canner(site, site.boiling, TimedKind.HEAT_UP, [1.1] * 5)
    paces = {canner.id: canner.pace for canner in day_of(day).canners}
    assert paces == {
        str(site.weighted.pk): Pace(heat_up=learned(SLOW), cool_down=learned(SLOW[:3])),
        str(site.dial.pk): Pace(),
        str(site.boiling.pk): Pace(heat_up=learned([1.1] * 5)),
        str(site.steamer.pk): Pace(),
    }


def test_timed_work_changes_prep_kettle_filling_and_unloading(
    site: Site, day: HarvestDay, batch: Batch
) -> None:
    sauce = declare(site, day, food="applesauce", pack="hot", jar="pint")
    before = day_of(day)
    measure_work(site, batch, TimedKind.PREP, SLOW, family=4)
    measure_work(site, sauce, TimedKind.KETTLE, SLOW, family=2)
    measure_work(site, batch, TimedKind.FILL, [0.7] * 6, family=4)
    measure_canner(site, site.weighted, TimedKind.UNLOADING, SLOW, usual_minutes=5)
    after = day_of(day)

    (beans, applesauce), (beans_before, applesauce_before) = after.batches, before.batches
    pace = learned(SLOW)
    assert beans.prep_person_minutes_per_jar == round(beans_before.prep_person_minutes_per_jar * pace, 2)
    assert applesauce.prep_person_minutes_per_jar == applesauce_before.prep_person_minutes_per_jar
    assert applesauce_before.kettle_minutes == 25
    assert applesauce.kettle_minutes == math.ceil(25 * pace)
    assert after.policy.fill_pace == learned([0.7] * 6)
    assert (before.policy.unloading_minutes, after.policy.unloading_minutes) == (5, math.ceil(5 * pace))


def test_a_batchs_own_figures_go_before_what_was_learned(site: Site, day: HarvestDay, batch: Batch) -> None:
    measure_work(site, batch, TimedKind.PREP, SLOW, family=4)
    Batch.objects.filter(pk=batch.pk).update(prep_person_minutes_per_jar=3.0)
    assert day_of(day).batches[0].prep_person_minutes_per_jar == 3.0


def test_a_kettle_is_never_planned_shorter_than_usual(site: Site, day: HarvestDay) -> None:
    sauce = declare(site, day, food="applesauce", pack="hot", jar="pint")
    measure_work(site, sauce, TimedKind.KETTLE, [0.5] * 20, family=2)
    assert day_of(day).batches[0].kettle_minutes == 25


def test_unloading_stays_within_what_a_kitchen_may_set(site: Site, day: HarvestDay, batch: Batch) -> None:
    change_policy(kitchen=site.kitchen, changes={"unloading_minutes": 50}, actor=site.lead)
    measure_canner(site, site.weighted, TimedKind.UNLOADING, [2.0] * 8, usual_minutes=50)
    assert day_of(HarvestDay.objects.get(pk=day.pk)).policy.unloading_minutes == 60


def test_a_day_is_planned_by_the_days_before_it(site: Site, day: HarvestDay, batch: Batch) -> None:
    """Its own records would change its plan under the people who work by it; those of years ago are past."""
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, [1.5], last=DAY)
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, [1.5], last=DAY - timedelta(days=731))
    assert figures_for(site.kitchen, DAY) == Figures()
    assert figures_for(site.kitchen, DAY + timedelta(days=1)) != Figures()


def test_another_kitchens_and_withdrawn_times_teach_nothing(
    site: Site, day: HarvestDay, batch: Batch
) -> None:
    elsewhere = make_site()
    measure_canner(elsewhere, elsewhere.weighted, TimedKind.HEAT_UP, SLOW)
    measure_work(site, batch, TimedKind.PREP, SLOW, family=4)
    MeasuredTime.objects.filter(kitchen=site.kitchen).update(withdrawn_at=day.opens_at)
    assert figures_for(site.kitchen, DAY) == Figures()


def test_a_lead_switches_it_off_and_the_change_is_recorded(site: Site, day: HarvestDay, batch: Batch) -> None:
    usual = day_digest(day_of(day))
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, SLOW)
    assert day_digest(day_of(day)) != usual

    change_policy(kitchen=site.kitchen, changes={"plan_by_records": False}, actor=site.lead)
    off = HarvestDay.objects.get(pk=day.pk)
    assert day_digest(day_of(off)) == usual
    line = AuditEvent.objects.filter(action="change_policy").latest("pk")
    assert (line.actor, line.before, line.after) == (
        site.lead,
        {"plan_by_records": True},
        {"plan_by_records": False},
    )


def test_the_kitchen_chooses_how_many_loads_keep_the_planned_time(site: Site, day: HarvestDay) -> None:
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, SLOW)
    change_policy(kitchen=site.kitchen, changes={"kept_percent": 95}, actor=site.lead)
    assert (
        figures_for(site.kitchen, DAY).canners[site.weighted.pk].heat_up == learned(SLOW, 95) > learned(SLOW)
    )
    for percent in (49, 96):
        with pytest.raises(BadSetting, match="kept percent"):
            change_policy(kitchen=site.kitchen, changes={"kept_percent": percent}, actor=site.lead)


def test_a_day_planned_with_learned_times_keeps_every_rule_and_is_published(
    site: Site, day: HarvestDay, batch: Batch
) -> None:
    for kind in (TimedKind.HEAT_UP, TimedKind.PRESSURE_UP, TimedKind.COOL_DOWN):
        measure_canner(site, site.weighted, kind, SLOW)
    measure_work(site, batch, TimedKind.FILL, [0.6] * 9, family=4)
    job = plan(site, day)
    assert violations_of(day_of(day), job.plan) == ()
    assert publish_plan(job=job, actor=site.lead, now=day.opens_at).state == DayState.PUBLISHED


def test_a_plan_made_before_something_was_learned_is_out_of_date(
    site: Site, day: HarvestDay, batch: Batch
) -> None:
    job = plan(site, day)
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, SLOW)
    with pytest.raises(PlanOutOfDate):
        publish_plan(job=job, actor=site.lead, now=day.opens_at)
    # The judge says the same of a plan that gives the canner less than the kitchen's own time.
    assert any(one.startswith("S4") and "heat_up" in one for one in violations_of(day_of(day), job.plan))


def test_the_figures_are_reckoned_once_however_many_records_there_are(site: Site) -> None:
    for ratios in (SLOW[:1], SLOW):
        MeasuredTime.objects.all().delete()
        measure_canner(site, site.weighted, TimedKind.HEAT_UP, ratios)
        asked = []
        for _ in range(2):
            with CaptureQueriesContext(connection) as queries:
                figures_for(site.kitchen, DAY)
            asked.append(len(queries))
        assert asked == [2, 1]


def test_the_figures_follow_what_is_noted_corrected_and_withdrawn(site: Site) -> None:
    after = DAY + timedelta(days=1)

    def anew() -> Figures:
        _taught_by.cache_clear()
        return figures_for(site.kitchen, after)

    run = make_beans_out(site)
    told = [figures_for(site.kitchen, after)]
    for minutes in (14, 15):  # As many times as before, each time with other keys.
        steam = RunEvent.objects.filter(load=run.load, kind=EventKind.STEADY_STEAM).latest("pk")
        record_event(
            load=run.load,
            kind=EventKind.STEADY_STEAM,
            at=run.at(minutes),
            actor=site.operator,
            corrects=steam,
            now=run.at(130),
        )
        told.append(figures_for(site.kitchen, after))
        assert told[-1] == anew()
    timed = time_work(
        batch=run.portion.batch,
        kind=TimedKind.PREP,
        jars=7,
        hands=2,
        minutes=50,
        actor=site.operator,
        now=run.at(130),
    )
    told.append(figures_for(site.kitchen, after))
    assert told[-1] == anew()
    withdraw_work(timed=timed, actor=site.operator)
    assert figures_for(site.kitchen, after) == anew() == told[-2]
    assert all(one != other for one, other in pairwise(told))


def test_the_exported_table_is_what_the_command_reads(site: Site, batch: Batch) -> None:
    measure_canner(site, site.weighted, TimedKind.COOL_DOWN, [1.2], least_minutes=20)
    measure_work(site, batch, TimedKind.PREP, [0.9], family=4)
    records = read_records(csv_of(times_before(site.kitchen, DAY).select_related("canner")))
    assert {(one.subject, one.kind, one.least_minutes) for one in records} == {
        (f"W1 {site.weighted.name}", Measured.COOL_DOWN, 20),
        ("vegetables", Measured.PREP, 0),
    }
    assert {round(one.ratio, 3) for one in records} == {1.2, 0.9}


def test_a_day_under_way_keeps_the_figures_it_was_published_with(
    site: Site, day: HarvestDay, batch: Batch
) -> None:
    """Records of another day may come in late: the loads in the canners run by what was expected of them."""
    measure_canner(site, site.weighted, TimedKind.HEAT_UP, SLOW)
    publish_plan(job=plan(site, day), actor=site.lead, now=day.opens_at)
    published = day_of(HarvestDay.objects.get(pk=day.pk))
    measure_canner(site, site.dial, TimedKind.HEAT_UP, SLOW)
    measure_canner(site, site.weighted, TimedKind.UNLOADING, SLOW, usual_minutes=5)
    measure_work(site, batch, TimedKind.FILL, SLOW, family=4)
    assert day_of(HarvestDay.objects.get(pk=day.pk)) != published

    HarvestDay.objects.get(pk=day.pk).loads.update(state=LoadState.RUNNING)
    under_way = day_of(HarvestDay.objects.get(pk=day.pk))
    assert [canner.pace for canner in under_way.canners] == [canner.pace for canner in published.canners]
    assert under_way.policy == published.policy


@pytest.mark.parametrize("setting", [4, 5, 8])
def test_unloading_follows_the_records_whatever_the_setting_was_then(
    site: Site, day: HarvestDay, setting: int
) -> None:
    """Twenty loads were unloaded in 6 minutes while the setting was 5."""
    measure_canner(site, site.weighted, TimedKind.UNLOADING, [1.2] * 20, usual_minutes=5)
    change_policy(
        kitchen=site.kitchen, changes={"unloading_minutes": setting, "kept_percent": 50}, actor=site.lead
    )
    pace = figures_for(site.kitchen, DAY).unloading
    assert setting * pace == pytest.approx(6, rel=0.02)
