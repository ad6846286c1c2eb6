"""Publishing: the rows are the plan, the judge has passed it, and what changed meanwhile stops it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from kitchen.batches.actions import book_slot, cancel_batch
from kitchen.batches.models import BatchState
from kitchen.equipment.actions import take_out_of_service
from kitchen.equipment.models import CannerTime
from kitchen.errors import BadHarvestDay, NotAllowed, PlanBreaksRule, PlanOutOfDate
from kitchen.planning.actions import publish_plan
from kitchen.planning.bridge import day_of, planned_day, violations_of
from kitchen.planning.models import DayState, HarvestDay, JobState, Load, LoadState, PlanJob, lot_code
from kitchen.planning.queries import loads_of, published_job
from kitchen.planning.rules import can_be_published
from kitchen.planning.verdict import out_of_date, violations
from kitchen.rota.actions import give_back
from kitchen.rota.models import Attendance, Shift
from tests.factories.sites import Site, declare, make_open_day, make_site, plan, publish

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 10, tzinfo=UTC)


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    opened = make_open_day(site)
    declare(site, opened, jars=14)
    declare(site, opened, food="applesauce", pack="hot", jar="pint", jars=9, member=site.other)
    return opened


def test_the_rows_are_the_plan(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    question = day_of(day)
    day = publish_plan(job=job, actor=site.lead, now=NOW)
    wanted = planned_day(question, job.plan)
    rows = {
        (
            load.canner_id,
            load.number,
            load.canner_time.starts_at if load.canner_time else None,
            load.canner_time.ends_at if load.canner_time else None,
            load.process_minutes,
            load.target_reading_psi,
            load.cooling_table_id,
            load.stands_until,
            tuple((phase.kind, phase.starts_at, phase.ends_at) for phase in load.phases.all()),
            tuple((portion.batch_id, portion.jars, portion.process_key) for portion in load.portions.all()),
        )
        for load in loads_of(day)
    }
    assert rows == {
        (
            one.canner_id,
            one.number,
            one.starts_at,
            one.ends_at,
            one.process_minutes,
            one.target_reading_psi,
            one.cooling_table_id,
            one.stands_until,
            tuple((phase.kind, phase.starts_at, phase.ends_at) for phase in one.phases),
            tuple((portion.batch_id, portion.jars, portion.process_key) for portion in one.portions),
        )
        for one in wanted.loads
    }
    shifts = Shift.objects.values_list("user_id", "station", "task", "starts_at", "ends_at")
    assert sorted(shifts) == sorted(
        (one.user_id, one.station, one.task, one.starts_at, one.ends_at) for one in wanted.shifts
    )
    assert (day.state, day.version, day.left_out.count()) == (DayState.PUBLISHED, 1, 0)
    assert published_job(day) == job
    assert {batch.state for batch in day.batches.all()} == {BatchState.PLANNED}


def test_every_jar_stands_somewhere_and_every_load_has_a_lot(site: Site, day: HarvestDay) -> None:
    for load in loads_of(publish(site, day)):
        assert len(load.places) == sum(portion.jars for portion in load.portions.all())
        assert load.lot_code.startswith(f"{site.kitchen.site_code}-")
        assert load.lot_code.endswith(f"-26255-{load.canner.code}-{load.number}")


def test_the_lot_of_one_food_and_of_several(site: Site, day: HarvestDay) -> None:
    def code(*foods: str) -> str:
        return lot_code(day=day, canner=site.weighted, number=2, foods=foods).split("-")[1]

    assert code("snap_beans", "snap_beans") == "SNABEA"
    assert code("applesauce") == "APPLES"
    assert code("snap_beans", "carrots") == "MIXED"


def test_jars_without_a_place_are_kept_with_the_reason(site: Site) -> None:
    day = make_open_day(site, helpers=False)
    declare(site, day)
    day = publish(site, day)
    (none,) = day.left_out.all()
    assert none.jars == 7
    assert none.reason
    assert none.remedy
    assert not Load.objects.exists()


def test_the_published_plan_stands_before_the_judge(site: Site, day: HarvestDay) -> None:
    day = publish(site, day)
    job = published_job(day)
    assert job is not None
    assert violations(job) == ()
    assert violations_of(day_of(day), job.plan) == ()


def cancel_a_batch(site: Site, day: HarvestDay) -> None:
    cancel_batch(batch=day.batches.all()[0], actor=site.lead)


def add_a_batch(site: Site, day: HarvestDay) -> None:
    declare(site, day, jars=1)


def send_somebody_home(site: Site, day: HarvestDay) -> None:
    Attendance.objects.filter(harvest_day=day, user=site.operator).delete()


def break_a_canner(site: Site, day: HarvestDay) -> None:
    take_out_of_service(canner=site.weighted, reason="Lid", actor=site.lead)


def book_a_canner(site: Site, day: HarvestDay) -> None:
    book_slot(
        kitchen=site.kitchen,
        member=site.member,
        canner=site.weighted,
        starts_at=site.at(9),
        ends_at=site.at(10),
        actor=site.member,
        now=NOW,
    )


@pytest.mark.parametrize(
    "change", [cancel_a_batch, add_a_batch, send_somebody_home, break_a_canner, book_a_canner]
)
def test_what_changed_meanwhile_stops_a_plan(
    site: Site, day: HarvestDay, change: Callable[[Site, HarvestDay], None]
) -> None:
    job = plan(site, day)
    assert not out_of_date(job)
    change(site, day)
    assert out_of_date(job)
    with pytest.raises(PlanOutOfDate, match="Something changed"):
        publish_plan(job=job, actor=site.lead, now=NOW)
    day.refresh_from_db()
    assert (day.state, day.version, Load.objects.count()) == (DayState.DRAFT, 0, 0)


def test_a_plan_is_published_once_and_an_older_one_never(site: Site, day: HarvestDay) -> None:
    older, newer = plan(site, day), plan(site, day)
    publish_plan(job=newer, actor=site.lead, now=NOW)
    for job in (older, newer):
        day.refresh_from_db()
        assert not can_be_published(job, day)
        with pytest.raises(PlanOutOfDate, match="Another plan"):
            publish_plan(job=job, actor=site.lead, now=NOW)


def test_a_plan_that_breaks_a_rule_is_not_published(site: Site, day: HarvestDay) -> None:
    """Planted: a minute less of process, in the load and in its phase."""
    job = plan(site, day)
    assert job.plan is not None
    job.plan["loads"][0]["process_minutes"] -= 1
    job.save()
    with pytest.raises(PlanBreaksRule) as refusal:
        publish_plan(job=job, actor=site.lead, now=NOW)
    assert "S3" in {violation.split(":")[0] for violation in refusal.value.violations}
    assert not Load.objects.exists()


def test_only_a_lead_publishes_and_only_a_plan(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    with pytest.raises(NotAllowed):
        publish_plan(job=job, actor=site.operator, now=NOW)
    PlanJob.objects.filter(pk=job.pk).update(state=JobState.FAILED)
    with pytest.raises(PlanOutOfDate, match="no plan"):
        publish_plan(job=job, actor=site.lead, now=NOW)


def test_a_day_under_way_keeps_its_plan(site: Site, day: HarvestDay) -> None:
    publish(site, day)
    job = plan(site, day)
    Load.objects.filter(pk=Load.objects.all()[0].pk).update(state=LoadState.RUNNING)
    with pytest.raises(BadHarvestDay, match="under way"):
        publish_plan(job=job, actor=site.lead, now=NOW)


def test_publishing_the_same_again_changes_nothing_that_people_see(site: Site, day: HarvestDay) -> None:
    publish(site, day)

    def seen() -> list[object]:
        loads = list(Load.objects.order_by("pk").values_list("pk", "uuid", "sequence", "lot_code"))
        portions = [list(load.portions.values_list("uuid", "jars")) for load in Load.objects.order_by("pk")]
        shifts = list(Shift.objects.order_by("pk").values_list("pk", "uuid", "sequence", "starts_at"))
        return [loads, portions, shifts]

    before = seen()
    day.refresh_from_db()
    assert publish(site, day).version == 2
    assert seen() == before
    assert CannerTime.objects.filter(occupies=True).count() == Load.objects.count()


def test_another_plan_cancels_loads_and_shifts_that_fell_away(site: Site, day: HarvestDay) -> None:
    publish(site, day)
    cancel_batch(batch=day.batches.get(food_id="snap_beans"), actor=site.member)
    day.refresh_from_db()
    publish(site, day)
    standing = list(loads_of(day))
    assert [load.portions.get().batch.food_id for load in standing] == ["applesauce"]
    fallen = Load.objects.filter(state=LoadState.CANCELLED)
    assert fallen.exists()
    assert all(load.sequence >= 1 and load.cancelled_at for load in fallen)
    assert not CannerTime.objects.filter(load__in=fallen, occupies=True).exists()
    assert not Shift.objects.filter(load__in=fallen, cancelled_at__isnull=True).exists()


def test_a_load_that_moves_keeps_its_entry_with_a_higher_sequence(site: Site) -> None:
    day = make_open_day(site)
    declare(site, day)
    publish(site, day)
    before = Load.objects.get()
    batch = day.batches.get()
    batch.arrives_at += timedelta(hours=3)
    batch.save()
    day.refresh_from_db()
    publish(site, day)
    after = Load.objects.get()
    assert (after.uuid, after.sequence) == (before.uuid, before.sequence + 1)


def test_open_shifts_of_the_plan_before_fall_away(site: Site, day: HarvestDay) -> None:
    """The new plan says who does their work."""
    day = publish(site, day)
    shift = day.shifts.filter(station="prep").order_by("starts_at")[0]
    lost = shift.user
    assert lost is not None
    given_back = give_back(shift=shift, actor=lost, at=NOW)
    day.attendances.filter(user=lost).delete()
    publish_plan(job=plan(site, day), actor=site.lead, now=NOW)
    given_back.refresh_from_db()
    assert given_back.cancelled_at == NOW
    assert not day.shifts.filter(cancelled_at__isnull=True, user__isnull=True).exists()
    assert not day.shifts.filter(cancelled_at__isnull=True, user=lost).exists()


def test_helpers_asked_for_by_hand_outlast_a_new_plan(site: Site, day: HarvestDay) -> None:
    """Taken or not; but whoever the new plan needs at that time is needed there, and the helper is wanted again."""
    day = publish(site, day)
    busy = day.shifts.filter(user=site.member).order_by("starts_at")[0]
    hours = [(site.at(19), site.at(20)), (site.at(19), site.at(20)), (busy.starts_at, busy.ends_at)]
    waiting, taken, clashing = (
        Shift.objects.create(
            harvest_day=day, user=user, station="cooling", asked_for=True, starts_at=starts, ends_at=ends
        )
        for user, (starts, ends) in zip((None, site.member, site.member), hours, strict=True)
    )
    publish_plan(job=plan(site, day), actor=site.lead, now=NOW)
    standing = day.shifts.filter(asked_for=True, cancelled_at__isnull=True)
    assert {one.pk: one.user for one in standing} == {
        waiting.pk: None,
        taken.pk: site.member,
        clashing.pk: None,
    }
    assert [one.user for one in clashing.former_holders.all()] == [site.member]
    clashing.refresh_from_db()
    assert clashing.sequence == 1
