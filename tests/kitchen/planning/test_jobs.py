"""Planning jobs: one at a time, taken once, stopped, given up, never lost."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from kitchen.audit.models import AuditEvent
from kitchen.batches.actions import cancel_batch
from kitchen.errors import AlreadyDecided, BadHarvestDay, NotAllowed, PlanningUnderWay
from kitchen.planning import tasks
from kitchen.planning.actions import request_plan
from kitchen.planning.bridge import dump_plan, read_plan
from kitchen.planning.jobs import (
    RUN_TASK,
    SILENT_AFTER,
    ask_stop,
    fail_job,
    finish_job,
    keep_alive,
    note_progress,
    start_job,
    tend_jobs,
)
from kitchen.planning.models import HarvestDay, JobState, Load, LoadState, PlanJob
from kitchen.planning.queries import Standing, open_job
from kitchen.planning.rules import can_be_planned
from kitchen.planning.running import run_job
from tests.factories.sites import Site, declare, make_open_day, make_site, plan, publish

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 9, 10, tzinfo=UTC)


@pytest.fixture
def site() -> Site:
    return make_site()


@pytest.fixture
def day(site: Site) -> HarvestDay:
    opened = make_open_day(site)
    declare(site, opened)
    return opened


def ask(site: Site, day: HarvestDay) -> PlanJob:
    """A waiting job."""
    return request_plan(harvest_day=day, actor=site.lead, seconds_limit=1, now=NOW)


def test_a_job_runs_from_row_to_answer(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    assert (job.state, job.failure, job.finished_at is not None) == (JobState.FINISHED, "", True)
    answer = read_plan(job.plan)
    assert answer.day_digest == job.input_hash
    assert dump_plan(answer) == job.plan
    assert [level["name"] for level in job.progress["levels"]] == [level.name for level in answer.levels]
    assert Standing(day).newest == Standing(day).newest_planned == job
    assert open_job(day) is None


def test_a_second_job_is_refused_by_rule_and_database(site: Site, day: HarvestDay) -> None:
    job = ask(site, day)
    with pytest.raises(PlanningUnderWay):
        ask(site, day)
    assert not can_be_planned(day)
    with pytest.raises(IntegrityError), transaction.atomic():
        PlanJob.objects.create(harvest_day=day, day_version=0)
    assert open_job(day) == job


def test_a_job_is_taken_once(site: Site, day: HarvestDay) -> None:
    job = ask(site, day)
    assert start_job(job_id=job.pk, now=NOW) == job
    assert start_job(job_id=job.pk, now=NOW) is None
    assert not run_job(job.pk, clock=lambda: 0.0)


def test_the_task_is_the_one_that_hints_name(site: Site, day: HarvestDay) -> None:
    assert tasks.run_plan_job.name == RUN_TASK
    job = ask(site, day)
    assert tasks.run_plan_job(job.pk)
    assert not tasks.run_plan_job(job.pk)


def test_only_a_lead_asks_and_only_for_a_sensible_time(site: Site, day: HarvestDay) -> None:
    with pytest.raises(NotAllowed):
        request_plan(harvest_day=day, actor=site.operator)
    for seconds in (0, 601):
        with pytest.raises(BadHarvestDay):
            request_plan(harvest_day=day, actor=site.lead, seconds_limit=seconds)


def test_a_day_under_way_is_not_planned_again(site: Site, day: HarvestDay) -> None:
    publish(site, day)
    Load.objects.update(state=LoadState.RUNNING)
    with pytest.raises(BadHarvestDay, match="under way"):
        ask(site, day)


def test_progress_is_a_report_and_a_sign_of_life(site: Site, day: HarvestDay) -> None:
    job = ask(site, day)
    start_job(job_id=job.pk, now=NOW)
    note_progress(job_id=job.pk, progress={"iterations": 3}, now=NOW + timedelta(seconds=1))
    assert keep_alive(job_id=job.pk, now=NOW + timedelta(seconds=2))
    job.refresh_from_db()
    assert (job.progress, job.heartbeat_at) == ({"iterations": 3}, NOW + timedelta(seconds=2))


def test_a_waiting_job_is_stopped_at_once(site: Site, day: HarvestDay) -> None:
    job = ask_stop(job=ask(site, day), actor=site.lead, now=NOW)
    assert (job.state, job.finished_at) == (JobState.STOPPED, NOW)
    assert start_job(job_id=job.pk) is None
    with pytest.raises(AlreadyDecided):
        ask_stop(job=job, actor=site.lead)
    assert can_be_planned(day)


def test_a_running_job_stops_with_the_best_plan_so_far(site: Site, day: HarvestDay) -> None:
    job = ask(site, day)
    start_job(job_id=job.pk)
    assert ask_stop(job=job, actor=site.lead).state == JobState.STOP_ASKED
    assert not keep_alive(job_id=job.pk)
    finished = finish_job(job_id=job.pk, plan={"kept": True}, day={}, now=NOW)
    assert finished is not None
    assert (finished.state, finished.plan) == (JobState.STOPPED, {"kept": True})


def test_a_job_given_up_takes_no_late_answer(site: Site, day: HarvestDay) -> None:
    job = ask(site, day)
    start_job(job_id=job.pk)
    fail_job(job_id=job.pk, failure="The worker died.")
    assert finish_job(job_id=job.pk, plan={}, day={}) is None
    fail_job(job_id=job.pk, failure="Again.")
    job.refresh_from_db()
    assert (job.state, job.failure, job.plan) == (JobState.FAILED, "The worker died.", None)


def test_a_day_that_changed_before_planning_fails_in_words(site: Site, day: HarvestDay) -> None:
    job = ask(site, day)
    cancel_batch(batch=day.batches.get(), actor=site.member)
    run_job(job.pk, clock=lambda: 0.0)
    job.refresh_from_db()
    assert (job.state, job.failure) == (
        JobState.FAILED,
        "The day changed before planning began. Plan again.",
    )


def test_a_planner_that_breaks_down_ends_the_job_and_is_not_hidden(site: Site, day: HarvestDay) -> None:
    job = ask(site, day)

    def broken_clock() -> float:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        run_job(job.pk, clock=broken_clock)
    job.refresh_from_db()
    assert job.state == JobState.FAILED
    assert "broke down" in job.failure


def test_a_job_whose_worker_died_is_given_up(site: Site, day: HarvestDay) -> None:
    job = ask(site, day)
    start_job(job_id=job.pk, now=NOW)
    assert tend_jobs(now=NOW + SILENT_AFTER) == 0
    assert tend_jobs(now=NOW + SILENT_AFTER + timedelta(seconds=1)) == 1
    job.refresh_from_db()
    assert job.state == JobState.FAILED
    assert can_be_planned(day)


def test_what_becomes_of_a_job_is_recorded(site: Site, day: HarvestDay) -> None:
    job = plan(site, day)
    actions = AuditEvent.objects.filter(object_type="planning.planjob", object_id=str(job.pk)).order_by("pk")
    assert list(actions.values_list("action", "actor")) == [
        ("request_plan", site.lead.pk),
        ("finish_plan", None),
    ]
