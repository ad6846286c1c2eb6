"""Two leads publish at once, or one publishes while a member books: one of them wins, whole."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from datetime import UTC, datetime
from itertools import pairwise
from threading import Barrier

import pytest
from django.db import connection, transaction

from kitchen.batches.actions import book_slot
from kitchen.equipment.models import CannerTime
from kitchen.errors import BadHarvestDay, PlanningUnderWay, PlanOutOfDate, SlotTaken
from kitchen.planning.actions import close_harvest_day, publish_plan, request_plan
from kitchen.planning.models import HarvestDay, Load, LoadState, PlanJob
from kitchen.planning.running import run_job
from tests.factories.sites import Site, declare, make_open_day, make_site, plan

NOW = datetime(2026, 9, 10, tzinfo=UTC)
pytestmark = pytest.mark.django_db(transaction=True)


def make_busy_day(site: Site) -> HarvestDay:
    """Fourteen quarts of beans."""
    day = make_open_day(site)
    declare(site, day, jars=14)
    return day


def publish_again(site: Site, job: PlanJob) -> None:
    publish_plan(job=job, actor=site.lead, now=NOW)


def close_day(site: Site, job: PlanJob) -> None:
    close_harvest_day(harvest_day=HarvestDay.objects.get(pk=job.harvest_day_id), actor=site.lead)


def test_of_two_plans_one_is_published() -> None:
    site = make_site()
    day = make_busy_day(site)
    jobs = [plan(site, day), plan(site, day)]
    start = Barrier(2)

    def run(job: PlanJob) -> str:
        start.wait(timeout=30)
        try:
            publish_plan(job=job, actor=site.lead, now=NOW)
        except PlanOutOfDate:
            return "out of date"
        finally:
            connection.close()
        return "published"

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(run, jobs)) == ["out of date", "published"]
    day.refresh_from_db()
    assert day.version == 1
    assert CannerTime.objects.filter(occupies=True).count() == Load.objects.count()


def test_a_plan_and_a_slot_at_once_never_share_a_canner() -> None:
    site = make_site()
    day = make_busy_day(site)
    job = plan(site, day)
    start = Barrier(2)

    def publish() -> str:
        start.wait(timeout=30)
        try:
            publish_plan(job=job, actor=site.lead, now=NOW)
        except (PlanOutOfDate, SlotTaken):
            return "refused"
        finally:
            connection.close()
        return "published"

    def book() -> str:
        start.wait(timeout=30)
        try:
            book_slot(
                kitchen=site.kitchen,
                member=site.other,
                canner=site.weighted,
                starts_at=site.at(7),
                ends_at=site.at(19),
                actor=site.other,
                now=NOW,
            )
        except SlotTaken:
            return "refused"
        finally:
            connection.close()
        return "booked"

    with ThreadPoolExecutor(2) as pool:
        futures = [pool.submit(publish), pool.submit(book)]
        outcomes = {future.result(timeout=60) for future in futures}
    assert outcomes in ({"published", "refused"}, {"refused", "booked"})
    spans = CannerTime.objects.filter(canner=site.weighted, occupies=True).order_by("starts_at")
    ordered = list(spans.values_list("starts_at", "ends_at"))
    assert all(before[1] <= after[0] for before, after in pairwise(ordered))


def test_of_many_who_ask_one_job_is_made_and_one_worker_takes_it() -> None:
    site = make_site()
    day = make_busy_day(site)
    start = Barrier(6)

    def ask(_: int) -> str:
        start.wait(timeout=30)
        try:
            request_plan(harvest_day=day, actor=site.lead, seconds_limit=1)
        except PlanningUnderWay:
            return "under way"
        finally:
            connection.close()
        return "asked"

    with ThreadPoolExecutor(6) as pool:
        assert sorted(pool.map(ask, range(6))) == ["asked", *["under way"] * 5]
    job = PlanJob.objects.get()

    def work(_: int) -> bool:
        start.wait(timeout=30)
        try:
            return run_job(job.pk, clock=lambda: 0.0)
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        assert sorted(pool.map(work, range(6))) == [False] * 5 + [True]


@pytest.mark.parametrize("end", [publish_again, close_day])
def test_a_load_that_begins_meanwhile_stays_begun_and_on_hold(end: Callable[[Site, PlanJob], object]) -> None:
    site = make_site()
    day = make_busy_day(site)
    publish_plan(job=plan(site, day), actor=site.lead, now=NOW)
    again = plan(site, day)
    load = Load.objects.order_by("pk")[0]
    pressed = {"state": LoadState.RUNNING, "on_hold": True, "deviation": "Vented 8 of 10 minutes (rule S4)."}

    def try_it() -> str:
        try:
            end(site, again)
        except BadHarvestDay:
            return "refused"
        finally:
            connection.close()
        return "done"

    with ThreadPoolExecutor(1) as pool:
        with transaction.atomic():
            Load.objects.filter(pk=load.pk).update(**pressed)
            other = pool.submit(try_it)
            wait([other], timeout=2)
            assert not other.done()  # It waits for the press.
        assert other.result(timeout=60) == "refused"
    assert Load.objects.filter(pk=load.pk, **pressed).exists()
