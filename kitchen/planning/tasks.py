"""Planning by a worker. A job runs once, however often its message comes."""

from __future__ import annotations

import time

from celery import shared_task

from kitchen.planning import asking, jobs
from kitchen.planning.answering import run_what_if
from kitchen.planning.running import run_job


@shared_task
def run_plan_job(job_id: int) -> bool:
    """Make the plan that a job asks for. False when another worker has it, or it no longer waits."""
    return run_job(job_id, clock=time.monotonic)


@shared_task
def run_what_if_job(asked_id: int) -> bool:
    """Look for what would place the jars a plan leaves out. False when another worker has it, or it no longer waits."""
    return run_what_if(asked_id, clock=time.monotonic)


@shared_task
def tend_jobs() -> int:
    """Hint again at jobs that wait, and give up those whose worker died."""
    return jobs.tend_jobs() + asking.tend_what_ifs()
