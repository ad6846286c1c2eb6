"""What the judge says of a job's plan as it was kept, and whether it still answers the day."""

from __future__ import annotations

import json
from functools import lru_cache

from kitchen.errors import BadHarvestDay
from kitchen.language.pieces import kept_text
from kitchen.planning.bridge import day_digest, question_of, read_day, violations_of
from kitchen.planning.models import PlanJob


def violations(job: PlanJob) -> tuple[str, ...]:
    """The broken rules in words; none when the plan keeps them all, or there is no plan."""
    return () if job.plan is None or job.day is None else _judged(json.dumps(job.day), json.dumps(job.plan))


def known_violations(job: PlanJob) -> tuple[str, ...]:
    """The same for a page: a release of the program judges a plan once. Publishing judges anew."""
    if not job.has_plan:
        return ()
    told: list[str] = json.loads(
        kept_text("verdict", (str(job.uuid), str(job.finished_at)), lambda: json.dumps(violations(job)))
    )
    return tuple(told)


def out_of_date(job: PlanJob) -> bool:
    """True when the day changed after the plan was made: a batch, a person's hours, a canner or a policy."""
    try:
        return day_digest(question_of(job)) != job.input_hash
    except BadHarvestDay:
        return True


@lru_cache(maxsize=64)
def _judged(day: str, plan: str) -> tuple[str, ...]:
    """The judge reads nothing but the two, so the same two need not be judged again by each who looks."""
    return violations_of(read_day(json.loads(day)), json.loads(plan))
