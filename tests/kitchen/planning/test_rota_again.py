"""The rota of a published plan drawn up again: who is kept is there, what people hold counts, loads stay."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from kitchen.audit.models import AuditEvent
from kitchen.errors import BadHarvestDay, CannotKeep, NotAllowed, PlanningUnderWay, PlanOutOfDate
from kitchen.members.models import CannerTraining, Membership, Role, User
from kitchen.planning.actions import publish_plan
from kitchen.planning.bridge import read_plan
from kitchen.planning.bridge.kept import read_around
from kitchen.planning.held import held_now
from kitchen.planning.keeping import request_rota
from kitchen.planning.models import HarvestDay, JobState, PlanJob
from kitchen.planning.queries import published_job
from kitchen.planning.running import run_job
from kitchen.planning.verdict import violations
from kitchen.rota.actions import give_back, hand_over, take, withdraw_attendance
from kitchen.rota.models import Attendance, Shift
from scheduler.plan import Assignment
from tests.factories.sites import Site, declare, make_open_day, make_site, publish

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 11, 14, tzinfo=UTC)


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    """A published day of three loads."""
    opened = make_open_day(site)
    declare(site, opened, jars=14)
    declare(site, opened, food="applesauce", pack="hot", jar="pint", jars=9, member=site.other)
    return publish(site, opened)


def shift_of(day: HarvestDay, task: str, **more: object) -> Shift:
    """The first standing shift of a kind of work."""
    shifts = day.shifts.filter(cancelled_at__isnull=True, task=task, **more)
    return shifts.order_by("starts_at", "pk")[0]


def another(site: Site, shift: Shift) -> User:
    """Somebody trained who does not have the shift."""
    return next(one for one in (site.lead, site.operator) if one.pk != shift.user_id)


def drawn(site: Site, day: HarvestDay, chosen: dict[int, int]) -> PlanJob:
    """The rota drawn up in this process."""
    job = request_rota(harvest_day=day, chosen=chosen, actor=site.lead, now=NOW)
    assert run_job(job.pk, clock=lambda: 0.0)
    return PlanJob.objects.get(pk=job.pk)


def has(day: HarvestDay, like: Shift) -> set[int]:
    """Who has the same work at the same time now."""
    same = day.shifts.filter(
        cancelled_at__isnull=True,
        task=like.task,
        load=like.load,
        starts_at=like.starts_at,
        ends_at=like.ends_at,
    )
    return set(same.values_list("user_id", flat=True))


def seen(day: HarvestDay) -> list[object]:
    """What people see of the day's loads, with the sequence that rises whenever it changes."""
    return list(
        day.loads.order_by("pk").values_list("uuid", "lot_code", "sequence", "canner_time__starts_at")
    )


def test_whoever_is_put_somewhere_is_there_once_it_is_published_and_loads_stay(
    site: Site, day: HarvestDay
) -> None:
    watch = shift_of(day, "watch")
    loads = seen(day)
    entries = AuditEvent.objects.count()
    job = request_rota(harvest_day=day, chosen={watch.pk: another(site, watch).pk}, actor=site.lead, now=NOW)
    assert AuditEvent.objects.count() == entries + 1
    run_job(job.pk, clock=lambda: 0.0)
    job.refresh_from_db()
    assert (job.state, violations(job)) == (JobState.FINISHED, ())
    assert Shift.objects.get(pk=watch.pk).user_id == watch.user_id  # Nothing is binding yet.
    told = read_around(job.around).told
    assert "Proven: with what is kept no rota is below" in told[0]
    day = publish_plan(job=job, actor=site.lead, now=NOW)
    assert has(day, watch) == {another(site, watch).pk}
    assert seen(day) == loads
    assert (day.version, published_job(day)) == (2, job)


def test_shifts_are_read_back_as_the_pieces_of_work_they_were_published_from(site: Site) -> None:
    opened = make_open_day(site)
    for member in (site.member, site.other):  # Two batches that share a load are prepared apart.
        declare(site, opened, food="applesauce", pack="hot", jar="pint", jars=4, member=member)
    day = publish(site, opened)
    job = published_job(day)
    assert job is not None
    published = read_plan(job.plan)
    assert any(len(load.portions) == 2 for load in published.loads)
    standing = held_now(day)
    assert set(standing.plan.assignments) == set(published.assignments)
    assert len(standing.plan.assignments) == len(published.assignments)
    assert standing.by_hand == set()
    # Both are prepared at the same time: one shift given back leaves everybody else at what they had, in whatever order
    # the rows came to be.
    prep = sorted((one for one in published.assignments if one.task_id.endswith("prep")), key=by_task)
    assert len({(one.start, one.end) for one in prep}) == 1
    gone = prep[-1]
    shift = day.shifts.get(user_id=int(gone.person_id), task="prep")
    for row in day.shifts.filter(task="prep").exclude(pk=shift.pk):
        Shift.objects.filter(pk=row.pk).delete()
        row.pk = None
        row.save(force_insert=True)
    assert shift.user is not None
    give_back(shift=shift, actor=shift.user, at=NOW)
    after = held_now(day)
    assert set(after.plan.assignments) == set(published.assignments) - {gone}
    assert after.pieces[shift.pk].task_id == gone.task_id
    assert after.by_hand == set()


def by_task(one: Assignment) -> tuple[str, str]:
    """Order by task, then by person."""
    return one.task_id, one.person_id


def test_what_people_hold_now_is_where_it_starts(site: Site, day: HarvestDay) -> None:
    watch, taker = next(
        (one, free)
        for one in day.shifts.filter(cancelled_at__isnull=True, task="watch").order_by("starts_at", "pk")
        for free in (another(site, one),)
        if not free.shifts.filter(
            cancelled_at__isnull=True, starts_at__lt=one.ends_at, ends_at__gt=one.starts_at
        ).exists()
    )
    assert held_now(day).by_hand == set()
    hand_over(shift=watch, to=taker, actor=site.lead, at=NOW)
    standing = held_now(day)
    assert standing.pieces[watch.pk].person_id == str(taker.pk)
    assert standing.by_hand == {watch.pk}
    job = drawn(site, day, {watch.pk: taker.pk})
    assert read_around(job.around).before == standing.plan
    day = publish_plan(job=job, actor=site.lead, now=NOW)
    # The row is the same, so calendars go on with the same entry.
    assert Shift.objects.get(pk=watch.pk, cancelled_at__isnull=True).user == taker


def test_whoever_is_put_in_anothers_place_takes_that_place_alone(site: Site, day: HarvestDay) -> None:
    pair = list(day.shifts.filter(task="fill").order_by("starts_at", "pk")[:2])
    assert pair[0].starts_at == pair[1].starts_at
    for goes, stays in (pair, reversed(pair)):
        busy = day.shifts.filter(starts_at__lt=goes.ends_at, ends_at__gt=goes.starts_at)
        to = next(
            one for one in (site.lead, site.operator, site.member, site.other) if not busy.filter(user=one)
        )
        job = request_rota(
            harvest_day=day, chosen={goes.pk: to.pk}, actor=site.lead, few_changes=True, now=NOW
        )
        run_job(job.pk, clock=lambda: 0.0)
        job.refresh_from_db()
        there = {
            int(one.person_id)
            for one in read_plan(job.plan).assignments
            if one.task_id == f"{plan_key(goes)}:fill"
        }
        assert there == {to.pk, stays.user_id}


def plan_key(shift: Shift) -> str:
    """The plan's name of a shift's load."""
    assert shift.load is not None
    return shift.load.plan_key


def test_whoever_cannot_come_is_replaced_by_a_newcomer(site: Site, day: HarvestDay) -> None:
    newcomer = User.objects.create_user("newcomer@yard.example", "Nell Fenwick")
    Membership.objects.create(kitchen=site.kitchen, user=newcomer, role=Role.MEMBER)
    gone = Attendance.objects.get(harvest_day=day, user=site.member)
    Attendance.objects.create(harvest_day=day, user=newcomer, starts_at=gone.starts_at, ends_at=gone.ends_at)
    opened = withdraw_attendance(attendance=gone, actor=site.member, at=NOW)
    assert opened
    day = publish_plan(job=drawn(site, day, {}), actor=site.lead, now=NOW)
    standing = day.shifts.filter(cancelled_at__isnull=True)
    assert not standing.filter(user__isnull=True).exists()
    assert not standing.filter(user=site.member).exists()
    assert standing.filter(user=newcomer).exists()


def test_what_breaks_a_rule_is_refused_before_anything_is_asked(site: Site, day: HarvestDay) -> None:
    watch = shift_of(day, "watch")
    with pytest.raises(CannotKeep, match=f"{site.member} cannot be kept at watch.*not trained"):
        request_rota(harvest_day=day, chosen={watch.pk: site.member.pk}, actor=site.lead, now=NOW)
    with pytest.raises(CannotKeep, match="no longer stands"):
        request_rota(harvest_day=day, chosen={watch.pk + 10_000: site.lead.pk}, actor=site.lead, now=NOW)
    assert not PlanJob.objects.filter(around__isnull=False).exists()


def test_what_leaves_work_undone_is_told_with_the_time(site: Site, day: HarvestDay) -> None:
    # Only one trained person is left, who is kept at peeling while a canner is hot.
    CannerTraining.objects.filter(membership__user=site.operator).delete()
    Attendance.objects.filter(harvest_day=day).exclude(user=site.lead).delete()
    prep = shift_of(day, "prep")
    job = drawn(site, day, {prep.pk: site.lead.pk})
    assert job.state == JobState.FAILED
    assert "Nobody was found for " in job.failure


@pytest.mark.parametrize("who", ["member", "operator"])
def test_only_a_lead_may_ask(site: Site, day: HarvestDay, who: str) -> None:
    with pytest.raises(NotAllowed, match="draw up the rota again"):
        request_rota(harvest_day=day, chosen={}, actor=getattr(site, who), now=NOW)
    assert not PlanJob.objects.filter(around__isnull=False).exists()


def test_a_day_without_a_plan_one_being_planned_and_one_under_way_are_refused(
    site: Site, day: HarvestDay
) -> None:
    with pytest.raises(BadHarvestDay, match="first shift has begun"):
        request_rota(harvest_day=day, chosen={}, actor=site.lead, now=shift_of(day, "prep").starts_at)
    request_rota(harvest_day=day, chosen={}, actor=site.lead, now=NOW)
    with pytest.raises(PlanningUnderWay):
        request_rota(harvest_day=day, chosen={}, actor=site.lead, now=NOW)
    bare = make_open_day(site, day=day.date + timedelta(days=1))
    with pytest.raises(BadHarvestDay, match="no rota yet"):
        request_rota(harvest_day=bare, chosen={}, actor=site.lead, now=NOW)


def test_a_shift_that_changed_hands_since_stops_it(site: Site, day: HarvestDay) -> None:
    job = drawn(site, day, {})
    fill = shift_of(day, "fill")
    assert fill.user is not None
    give_back(shift=fill, actor=fill.user, at=NOW)
    with pytest.raises(PlanOutOfDate, match="changed hands after this rota was drawn up"):
        publish_plan(job=job, actor=site.lead, now=NOW)
    assert Shift.objects.get(pk=fill.pk).user is None
    take(shift=Shift.objects.get(pk=fill.pk), actor=fill.user, at=NOW)
    publish_plan(job=job, actor=site.lead, now=NOW)  # It is as it was.


def test_it_is_not_published_once_a_shift_has_begun(site: Site, day: HarvestDay) -> None:
    job = drawn(site, day, {})
    with pytest.raises(BadHarvestDay, match="first shift has begun"):
        publish_plan(job=job, actor=site.lead, now=shift_of(day, "prep").starts_at)
