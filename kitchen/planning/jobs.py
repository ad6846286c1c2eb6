"""What becomes of a planning job: begun, reported on, stopped, finished, failed.

The rows are the queue; a message to a worker is only a hint that there is something to do.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.errors import AlreadyDecided
from kitchen.hints import send_hint
from kitchen.members.models import User
from kitchen.members.rules import Deed, check_may
from kitchen.planning.models import JobState, PlanJob
from kitchen.planning.queries import silent_jobs, waiting_jobs
from kitchen.planning.rules import VALID_JOB_NEXT

RUN_TASK = "kitchen.planning.tasks.run_plan_job"
# A planner reports at least every few seconds; one that was silent for so long has died.
SILENT_AFTER = timedelta(minutes=3)
# A hint to the worker may be lost; a job that nobody began is hinted at again.
HINT_AGAIN_AFTER = timedelta(seconds=20)


@transaction.atomic
def start_job(*, job_id: int, now: datetime | None = None) -> PlanJob | None:
    """Take a waiting job, for exactly one worker; None when another took it, or it no longer waits."""
    now = now or timezone.now()
    taken = PlanJob.objects.filter(pk=job_id, state=JobState.WAITING).update(
        state=JobState.RUNNING, started_at=now, heartbeat_at=now
    )
    return PlanJob.objects.select_related("harvest_day__kitchen", "follows").get(pk=job_id) if taken else None


def note_progress(*, job_id: int, progress: dict[str, object], now: datetime | None = None) -> None:
    """Keep the newest report of the planner, for the page that watches."""
    running = PlanJob.objects.filter(pk=job_id, state__in=(JobState.RUNNING, JobState.STOP_ASKED))
    running.update(progress=progress, heartbeat_at=now or timezone.now())


def note_rota(*, job_id: int, around: object) -> None:
    """Keep how good a rota is that was drawn up, beside what it was drawn up around."""
    PlanJob.objects.filter(pk=job_id, state__in=(JobState.RUNNING, JobState.STOP_ASKED)).update(around=around)


def keep_alive(*, job_id: int, now: datetime | None = None) -> bool:
    """Give a sign of life.

    False when the job should end with the best plan so far, or was ended by others.
    """
    running = PlanJob.objects.filter(pk=job_id, state=JobState.RUNNING)
    return bool(running.update(heartbeat_at=now or timezone.now()))


@transaction.atomic
def finish_job(*, job_id: int, plan: object, day: object, now: datetime | None = None) -> PlanJob | None:
    """Keep the plan that a job found, and the question as it was asked. None when the job was given up
    before.

    A job that was asked to stop ends as stopped; the best plan so far may be published all the same.
    """
    job = (
        PlanJob.objects.select_for_update(of=("self",)).select_related("harvest_day__kitchen").get(pk=job_id)
    )
    ends = {JobState.RUNNING: JobState.FINISHED, JobState.STOP_ASKED: JobState.STOPPED}.get(
        JobState(job.state)
    )
    if ends is None:
        return None
    job.state, job.plan, job.day = ends, plan, day
    job.finished_at = now or timezone.now()
    job.save(update_fields=["state", "plan", "day", "finished_at"])
    record(
        actor=None,
        kitchen=job.harvest_day.kitchen,
        action="finish_plan",
        subject=job,
        after=snapshot(job, "state"),
    )
    return job


@transaction.atomic
def fail_job(*, job_id: int, failure: str, now: datetime | None = None) -> None:
    """Note in words why a job came to nothing."""
    job = (
        PlanJob.objects.select_for_update(of=("self",)).select_related("harvest_day__kitchen").get(pk=job_id)
    )
    if JobState.FAILED not in VALID_JOB_NEXT[JobState(job.state)]:
        return
    job.state, job.failure = JobState.FAILED, failure
    job.finished_at = now or timezone.now()
    job.save(update_fields=["state", "failure", "finished_at"])
    record(
        actor=None,
        kitchen=job.harvest_day.kitchen,
        action="fail_plan",
        subject=job,
        after=snapshot(job, "state", "failure"),
    )


@transaction.atomic
def ask_stop(*, job: PlanJob, actor: User, now: datetime | None = None) -> PlanJob:
    """Stop a job: one that waits at once, one that runs with the best plan it has."""
    check_may(actor, job.harvest_day.kitchen, Deed.PLAN_DAY)
    job = (
        PlanJob.objects.select_for_update(of=("self",)).select_related("harvest_day__kitchen").get(pk=job.pk)
    )
    stops = {JobState.WAITING: JobState.STOPPED, JobState.RUNNING: JobState.STOP_ASKED}.get(
        JobState(job.state)
    )
    if stops is None:
        raise AlreadyDecided(
            f"This job is {job.get_state_display().lower()}.", remedy="There is nothing left to stop."
        )
    before = snapshot(job, "state")
    job.state = stops
    if stops is JobState.STOPPED:
        job.finished_at = now or timezone.now()
    job.save(update_fields=["state", "finished_at"])
    record(
        actor=actor,
        kitchen=job.harvest_day.kitchen,
        action="ask_stop",
        subject=job,
        before=before,
        after=snapshot(job, "state"),
    )
    return job


def tend_jobs(*, now: datetime | None = None) -> int:
    """Hint again at jobs that nobody began, and give up those whose worker died. How many were given up."""
    now = now or timezone.now()
    for job_id in waiting_jobs(now - HINT_AGAIN_AFTER).values_list("pk", flat=True):
        send_hint(RUN_TASK, job_id)
    silent = list(silent_jobs(now - SILENT_AFTER).values_list("pk", flat=True))
    for job_id in silent:
        fail_job(job_id=job_id, failure="The worker was not heard of any more. Plan again.", now=now)
    return len(silent)
