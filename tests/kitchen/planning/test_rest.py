"""The rest of a day planned again: nothing begun is touched, rows keep their places, and what changed stops it."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from kitchen.batches.actions import cancel_batch, receive_batch
from kitchen.equipment.actions import take_out_of_service
from kitchen.errors import BadHarvestDay, PlanOutOfDate
from kitchen.floor.actions import jars_out, record_event
from kitchen.floor.models import EventKind
from kitchen.members.models import User
from kitchen.planning.actions import publish_plan, request_rest
from kitchen.planning.bridge import difference_of, question_of
from kitchen.planning.models import HarvestDay, JobState, Load, LoadState, PlanJob
from kitchen.planning.queries import loads_of, published_job
from kitchen.planning.running import run_job
from kitchen.planning.verdict import out_of_date, violations
from kitchen.rota.actions import leave
from kitchen.rota.models import Shift
from tests.factories.sites import Site, declare, make_open_day, make_site, plan, publish

pytestmark = pytest.mark.django_db

_ENDS = (
    ("loading", EventKind.LOADED),
    ("heat_up", EventKind.STEADY_STEAM),
    ("vent", EventKind.WEIGHT_ON),
    ("pressure_up", EventKind.AT_PRESSURE),
    ("process", EventKind.HEAT_OFF),
    ("cool_down", EventKind.ZERO_PRESSURE),
    ("rest", EventKind.LID_OFF),
)


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """Two loads of beans, one after the other in the only canner for them, and one of applesauce."""
    opened = make_open_day(site)
    declare(site, opened, jars=14)
    declare(site, opened, food="applesauce", pack="hot", jar="pint", jars=7, member=site.other)
    return publish(site, opened)


def beans(day: HarvestDay, number: int) -> Load:
    """The first or the second load of beans."""
    return day.loads.get(
        portions__batch__food_id="snap_beans", number=number, state__in=("planned", "running", "out")
    )


def end_of(load: Load, kind: str) -> datetime:
    """When a phase was planned to end."""
    return load.phases.get(kind=kind).ends_at


def run(load: Load, last: str, actor: User) -> datetime:
    """Record a load as planned up to the end of a phase; the moment of that end."""
    for kind, event in _ENDS:
        at = end_of(load, kind)
        record_event(load=load, kind=event, at=at, actor=actor, now=at)
        if kind == last:
            return at
    raise KeyError(last)


def rest(site: Site, day: HarvestDay, now: datetime) -> PlanJob:
    """The rest of the day, planned in this process."""
    job = request_rest(harvest_day=day, actor=site.lead, now=now)
    run_job(job.pk, clock=lambda: 0.0)
    return PlanJob.objects.select_related("follows", "harvest_day__kitchen").get(pk=job.pk)


def seen(day: HarvestDay) -> list[tuple[object, ...]]:
    """Everything that calendars and run sheets show of a day."""
    loads = loads_of(day).order_by("pk")
    rows: list[tuple[object, ...]] = [
        (load.uuid, load.sequence, load.lot_code, load.canner_time and load.canner_time.ends_at)
        for load in loads
    ]
    shifts = Shift.objects.filter(harvest_day=day, cancelled_at__isnull=True).order_by("pk")
    rows += [(one.uuid, one.sequence, one.user_id, one.starts_at, one.ends_at) for one in shifts]
    return rows


def test_nothing_changes_for_anybody_while_all_runs_as_planned(site: Site, day: HarvestDay) -> None:
    sauce = day.loads.get(portions__batch__food_id="applesauce")
    for kind, event in (
        ("loading", EventKind.LOADED),
        ("heat_up", EventKind.FULL_BOIL),
        ("process", EventKind.HEAT_OFF),
    ):
        at = end_of(sauce, kind)
        record_event(load=sauce, kind=event, at=at, actor=site.operator, now=at)
    at = end_of(sauce, "unloading")
    jars_out(load=sauce, at=at, actor=site.operator, now=at)
    now = run(beans(day, 1), "pressure_up", site.operator) + timedelta(minutes=3)
    before = seen(day)
    job = rest(site, day, now)
    assert (job.state, job.failure) == (JobState.FINISHED, "")
    assert violations(job) == ()
    old = published_job(day)
    assert old is not None
    assert difference_of(old.day, old.plan, job.day, job.plan).is_empty
    publish_plan(job=job, actor=site.lead, now=now)
    assert seen(day) == before
    day.refresh_from_db()
    assert day.version == 2


def test_a_load_that_is_late_pushes_the_next_and_stays_as_it_is(site: Site, day: HarvestDay) -> None:
    first, second = beans(day, 1), beans(day, 2)
    run(first, "loading", site.operator)
    late = end_of(first, "heat_up") + timedelta(minutes=40)
    record_event(load=first, kind=EventKind.STEADY_STEAM, at=late, actor=site.operator, now=late)
    starts = end_of(second, "loading")
    phases = list(first.phases.values_list("kind", "starts_at", "ends_at"))
    publish_plan(job=rest(site, day, late), actor=site.lead, now=late)
    second.refresh_from_db()
    assert end_of(second, "loading") >= starts + timedelta(minutes=40)
    assert (second.number, second.sequence) == (2, 1)
    first.refresh_from_db()
    assert list(first.phases.values_list("kind", "starts_at", "ends_at")) == phases
    assert first.canner_time is not None
    assert second.canner_time is not None
    assert first.canner_time.ends_at <= second.canner_time.starts_at


def test_a_canner_that_fails_in_the_middle_of_a_process_puts_its_jars_on_hold(
    site: Site, day: HarvestDay
) -> None:
    first = beans(day, 1)
    now = run(first, "pressure_up", site.operator) + timedelta(minutes=5)
    take_out_of_service(canner=site.weighted, reason="the gasket blew", actor=site.lead)
    job = rest(site, day, now)
    assert violations(job) == ()
    old = published_job(day)
    assert old is not None
    told = difference_of(old.day, old.plan, job.day, job.plan)
    assert any("7 jars of Beans" in words and words.startswith("Lost: ") for words in told.loads)
    assert any("the lead decides" in words for words in told.left_out)
    publish_plan(job=job, actor=site.lead, now=now)
    first.refresh_from_db()
    assert (first.state, first.on_hold) == (LoadState.RUNNING, True)
    assert "the gasket blew. The process did not run its whole time." in first.deviation
    codes = set(day.left_out.filter(batch__food_id="snap_beans").values_list("code", "jars"))
    assert ("on-hold", 7) in codes
    # Decided by the lead or not, those jars are never planned again by themselves.
    again = rest(site, day, now + timedelta(minutes=1))
    assert violations(again) == ()
    # Once they are out, they are a held load like any other.
    jars_out(load=first, at=now, actor=site.operator, deviation="taken out cold", now=now)
    after = rest(site, day, now + timedelta(minutes=2)) if stop(again) else again
    assert (after.failure, violations(after)) == ("", ())
    assert after.plan is not None
    assert [load["on_hold"] for load in after.plan["loads"] if load["id"] == first.plan_key] == [True]


def stop(job: PlanJob) -> bool:
    """True when the job is over, so that another may be asked for."""
    return job.state == JobState.FINISHED


def test_another_load_begun_meanwhile_stops_the_plan(site: Site, day: HarvestDay) -> None:
    now = run(beans(day, 1), "loading", site.operator)
    job = rest(site, day, now)
    sauce = day.loads.get(portions__batch__food_id="applesauce")
    if sauce.plan_key in {one["load"]["id"] for one in job.day["floor"]["begun"]}:  # type: ignore[index]
        sauce = beans(day, 2)
    later = now + timedelta(minutes=1)
    record_event(load=sauce, kind=EventKind.LOADED, at=later, actor=site.operator, now=later)
    with pytest.raises(PlanOutOfDate, match="was begun after this plan was made"):
        publish_plan(job=job, actor=site.lead, now=now)


def test_a_corrected_record_stops_the_plan(site: Site, day: HarvestDay) -> None:
    first = beans(day, 1)
    now = run(first, "heat_up", site.operator)
    job = rest(site, day, now)
    assert not out_of_date(job)
    wrong = first.run_events.get(kind=EventKind.STEADY_STEAM)
    record_event(
        load=first,
        kind=EventKind.STEADY_STEAM,
        at=now - timedelta(minutes=2),
        actor=site.operator,
        corrects=wrong,
        now=now,
    )
    assert out_of_date(job)
    with pytest.raises(PlanOutOfDate, match="Something changed"):
        publish_plan(job=job, actor=site.lead, now=now)


def test_lines_recorded_after_the_floor_was_looked_at_do_not_stop_it(site: Site, day: HarvestDay) -> None:
    first = beans(day, 1)
    now = run(first, "heat_up", site.operator) + timedelta(minutes=1)
    job = rest(site, day, now)
    record_event(
        load=first,
        kind=EventKind.WEIGHT_ON,
        at=end_of(first, "vent"),
        actor=site.operator,
        now=now + timedelta(minutes=30),
    )
    publish_plan(job=job, actor=site.lead, now=now)


def test_more_produce_than_declared_is_planned_on_top(site: Site, day: HarvestDay) -> None:
    now = run(beans(day, 1), "loading", site.operator)
    batch = day.batches.get(food_id="applesauce")
    receive_batch(batch=batch, jars=12, actor=site.operator)
    publish_plan(job=rest(site, day, now), actor=site.lead, now=now)
    assert sum(one.jars for one in batch.portions.exclude(load__state="cancelled")) == 12


def test_a_cancelled_batch_takes_its_load_with_it(site: Site, day: HarvestDay) -> None:
    now = run(beans(day, 1), "loading", site.operator)
    load = day.loads.get(portions__batch__food_id="applesauce")
    cancel_batch(batch=day.batches.get(food_id="applesauce"), actor=site.other)
    job = rest(site, day, now)
    old = published_job(day)
    assert old is not None
    told = difference_of(old.day, old.plan, job.day, job.plan)
    assert [words for words in told.loads if words.startswith("Dropped: 7 jars of Applesauce")]
    publish_plan(job=job, actor=site.lead, now=now)
    load.refresh_from_db()
    assert load.state == LoadState.CANCELLED
    assert load.lot_code.startswith(site.kitchen.site_code)


def test_a_watch_that_nobody_takes_over_is_said_in_words(site: Site, day: HarvestDay) -> None:
    now = run(beans(day, 1), "heat_up", site.operator)
    for user in (site.lead, site.operator):
        leave(harvest_day=day, user=user, at=now, actor=site.lead)
    job = rest(site, day, now)
    assert job.state == JobState.FAILED
    assert "Nobody trained is free to watch load" in job.failure
    assert "the jars are then on hold for your decision" in job.failure


def test_a_watch_is_open_from_when_somebody_went_home_until_the_rest_is_planned(
    site: Site, day: HarvestDay
) -> None:
    """Rule S9: the run sheet says so at once, and the new plan puts somebody there to the minute."""
    first = beans(day, 1)
    watch = day.shifts.get(load=first, station="canner")
    assert watch.user is not None
    now = run(first, "pressure_up", site.operator) + timedelta(minutes=3)
    opened = leave(harvest_day=day, user=watch.user, at=now, actor=site.lead)
    left = next(one for one in opened if one.load == first)
    assert (left.user, left.starts_at, left.ends_at) == (None, now, watch.ends_at)
    publish_plan(job=rest(site, day, now), actor=site.lead, now=now + timedelta(minutes=1))
    standing = day.shifts.filter(cancelled_at__isnull=True)
    assert not standing.filter(user__isnull=True).exists()
    before, after = standing.filter(load=first, station="canner").order_by("starts_at")
    assert (before.user, before.ends_at) == (watch.user, now)
    assert (after.starts_at, after.ends_at) == (now, watch.ends_at)
    assert after.user not in (None, watch.user)


def test_the_rest_of_a_day_needs_a_day_that_has_begun(site: Site, day: HarvestDay) -> None:
    with pytest.raises(BadHarvestDay, match="Nothing of this day has begun"):
        request_rest(harvest_day=day, actor=site.lead, now=day.opens_at - timedelta(hours=1))
    other = make_open_day(site, day=day.date + timedelta(days=1))
    with pytest.raises(BadHarvestDay, match="No plan is published"):
        request_rest(harvest_day=other, actor=site.lead, now=other.opens_at)


def test_the_floor_is_what_the_records_say(site: Site, day: HarvestDay) -> None:
    first = beans(day, 1)
    now = run(first, "pressure_up", site.operator) + timedelta(minutes=4)
    record_event(load=first, kind=EventKind.PRESSURE_LOST, at=now, actor=site.operator, now=now)
    reached = now + timedelta(minutes=6)
    record_event(load=first, kind=EventKind.AT_PRESSURE, at=reached, actor=site.operator, now=reached)
    job = request_rest(harvest_day=day, actor=site.lead, now=reached + timedelta(minutes=1))
    floor = question_of(job).floor
    assert floor is not None
    begun = next(one for one in floor.begun if one.load.id == first.plan_key)
    process = begun.load.phases[4]
    minutes = (reached - end_of(first, "pressure_up")) // timedelta(minutes=1) + first.process_minutes
    assert process.end - process.start == minutes


def test_a_load_put_in_before_the_others_leaves_them_their_rows(site: Site) -> None:
    opened = make_open_day(site)
    declare(site, opened, jars=7)
    declare(site, opened, jars=7, member=site.other)
    day = publish(site, opened)
    rows = {load.portions.get().batch.member_id: load.pk for load in loads_of(day)}
    early = declare(site, day, jars=7, member=site.lead)
    early.picks_up_at = day.opens_at + timedelta(hours=3)
    early.save()
    publish_plan(job=plan(site, day), actor=site.lead, now=day.opens_at - timedelta(hours=5))
    now_rows = {load.portions.get().batch.member_id: load.pk for load in loads_of(day)}
    assert {member: now_rows[member] for member in rows} == rows
    assert loads_of(day).get(portions__batch=early).number == 1
