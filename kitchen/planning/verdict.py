"""What the judge says of a job's plan and the question it answered, both as they were kept."""

from __future__ import annotations

from kitchen.planning.bridge import read_day, violations_of
from kitchen.planning.models import PlanJob


def violations(job: PlanJob) -> tuple[str, ...]:
    """The broken rules in words; none when the plan keeps them all, or there is no plan."""
    return () if job.plan is None or job.day is None else violations_of(read_day(job.day), job.plan)
