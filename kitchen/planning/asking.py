"""What becomes of a what-if job: asked for, begun, reported on, stopped, finished, failed.

The rows are the queue, as with planning; a message to a worker is only a hint.
"""

from __future__ import annotations

from datetime import datetime
from functools import partial

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.errors import AlreadyDecided, PlanOutOfDate
from kitchen.hints import send_hint
from kitchen.members.models import User
from kitchen.members.rules import Deed, check_may
from kitchen.planning.jobs import HINT_AGAIN_AFTER, SILENT_AFTER
from kitchen.planning.models import OPEN_JOB_STATES, JobState, PlanJob, WhatIfJob
from kitchen.planning.rules import VALID_JOB_NEXT

RUN_WHAT_IF_TASK = "kitchen.planning.tasks.run_what_if_job"


@transaction.atomic
def request_what_if(*, job: PlanJob, actor: User, now: datetime | None = None) -> WhatIfJob:
    """Ask what would place the jars that a plan leaves out or brings home late; a worker looks for it.

    One that waits or runs already is left alone. Refused: a job without a plan.
    """
    check_may(actor, job.harvest_day.kitchen, Deed.PLAN_DAY)
    job = (
        PlanJob.objects.select_for_update(of=("self",)).select_related("harvest_day__kitchen").get(pk=job.pk)
    )
    if job.plan is None or job.day is None:
        raise PlanOutOfDate("This job has no plan to ask about.", remedy="Plan the day first.")
    asked = WhatIfJob.objects.filter(job=job).first()
    if asked is not None and asked.state in OPEN_JOB_STATES:
        return asked
    asked, _ = WhatIfJob.objects.update_or_create(
        job=job,
        defaults={
            "state": JobState.WAITING,
            "progress": {},
            "found": None,
            "requested_by": actor,
            "created_at": now or timezone.now(),
            "heartbeat_at": None,
            "finished_at": None,
            "failure": "",
        },
    )
    _note(asked, "request_what_if", actor)
    transaction.on_commit(partial(send_hint, RUN_WHAT_IF_TASK, asked.pk), robust=True)
    return asked


@transaction.atomic
def start_what_if(*, asked_id: int, now: datetime | None = None) -> WhatIfJob | None:
    """Take a waiting row, for exactly one worker; None when another took it, or it no longer waits."""
    taken = WhatIfJob.objects.filter(pk=asked_id, state=JobState.WAITING).update(
        state=JobState.RUNNING, heartbeat_at=now or timezone.now()
    )
    return WhatIfJob.objects.select_related("job").get(pk=asked_id) if taken else None


def note_answered(*, asked_id: int, answered: int, of: int) -> None:
    """Keep how far the search has come, for the page that watches."""
    running = WhatIfJob.objects.filter(pk=asked_id, state__in=(JobState.RUNNING, JobState.STOP_ASKED))
    running.update(progress={"answered": answered, "of": of})


def keep_asking(*, asked_id: int, now: datetime | None = None) -> bool:
    """Give a sign of life.

    False when the search should end with what it has: it was asked to stop, or a plan waits for the worker, which
    goes before.
    """
    running = WhatIfJob.objects.filter(pk=asked_id, state=JobState.RUNNING)
    lives = bool(running.update(heartbeat_at=now or timezone.now()))
    return lives and not PlanJob.objects.filter(state=JobState.WAITING).exists()


def finish_what_if(*, asked_id: int, found: object, now: datetime | None = None) -> WhatIfJob | None:
    """Keep the answers. None when the row was given up before."""
    ends = {JobState.RUNNING: JobState.FINISHED, JobState.STOP_ASKED: JobState.STOPPED}
    with transaction.atomic():
        asked = _locked(asked_id)
        state = ends.get(JobState(asked.state))
        if state is None:
            return None
        asked.found = found
        return _end(asked, state, "finish_what_if", now)


def fail_what_if(*, asked_id: int, failure: str, now: datetime | None = None) -> None:
    """Note in words why a search came to nothing."""
    with transaction.atomic():
        asked = _locked(asked_id)
        if JobState.FAILED in VALID_JOB_NEXT[JobState(asked.state)]:
            asked.failure = failure
            _end(asked, JobState.FAILED, "fail_what_if", now)


@transaction.atomic
def stop_what_if(*, asked: WhatIfJob, actor: User, now: datetime | None = None) -> WhatIfJob:
    """Stop a search: one that waits at once, one that runs with what it has found."""
    check_may(actor, asked.job.harvest_day.kitchen, Deed.PLAN_DAY)
    asked = _locked(asked.pk)
    stops = {JobState.WAITING: JobState.STOPPED, JobState.RUNNING: JobState.STOP_ASKED}
    state = stops.get(JobState(asked.state))
    if state is None:
        raise AlreadyDecided(
            f"This search is {asked.get_state_display().lower()}.", remedy="There is nothing left to stop."
        )
    if state is JobState.STOPPED:
        return _end(asked, state, "stop_what_if", now, actor)
    asked.state = state
    asked.save(update_fields=["state"])
    _note(asked, "stop_what_if", actor)
    return asked


def tend_what_ifs(*, now: datetime | None = None) -> int:
    """Hint again at rows that nobody began, and give up those whose worker died. How many were given up."""
    now = now or timezone.now()
    waiting = WhatIfJob.objects.filter(state=JobState.WAITING, created_at__lt=now - HINT_AGAIN_AFTER)
    for asked_id in waiting.values_list("pk", flat=True):
        send_hint(RUN_WHAT_IF_TASK, asked_id)
    running = WhatIfJob.objects.filter(state__in=(JobState.RUNNING, JobState.STOP_ASKED))
    silent = list(running.filter(heartbeat_at__lt=now - SILENT_AFTER).values_list("pk", flat=True))
    for asked_id in silent:
        fail_what_if(asked_id=asked_id, failure="The worker was not heard of any more. Ask again.", now=now)
    return len(silent)


def _locked(asked_id: int) -> WhatIfJob:
    rows = WhatIfJob.objects.select_for_update(of=("self",)).select_related("job__harvest_day__kitchen")
    return rows.get(pk=asked_id)


def _end(
    asked: WhatIfJob, state: JobState, deed: str, now: datetime | None, actor: User | None = None
) -> WhatIfJob:
    asked.state = state
    asked.finished_at = now or timezone.now()
    asked.save(update_fields=["state", "found", "failure", "finished_at"])
    _note(asked, deed, actor)
    return asked


def _note(asked: WhatIfJob, deed: str, actor: User | None) -> None:
    record(
        actor=actor,
        kitchen=asked.job.harvest_day.kitchen,
        action=deed,
        subject=asked,
        after=snapshot(asked, "job", "state", "failure"),
    )
