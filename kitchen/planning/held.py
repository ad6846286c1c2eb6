"""Whether a published rota can be drawn up again, and whether one that was still answers what people hold."""

from __future__ import annotations

from datetime import datetime

from kitchen.errors import BadHarvestDay, PlanOutOfDate
from kitchen.planning.bridge.kept import Held, held, is_held_still, read_around
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.queries import planned_shift_has_begun, published_job


def held_now(day: HarvestDay) -> Held:
    """The published plan with the rota as people hold it. ``BadHarvestDay`` when no plan is published."""
    published = published_job(day, light=True)
    if published is None:
        raise BadHarvestDay(
            "No plan is published for this day, so there is no rota yet.",
            remedy="Plan the day and publish it first.",
        )
    return held(day, published.plan)


def check_no_shift_begun(day: HarvestDay, at: datetime) -> None:
    """Refuse once the first shift of the plan has begun: who does what is then happening."""
    if planned_shift_has_begun(day, at):
        raise BadHarvestDay(
            "The first shift has begun.",
            remedy="Change single shifts by hand, or plan the rest of the day again.",
        )


def check_rota_stands(job: PlanJob, day: HarvestDay, at: datetime) -> None:
    """Refuse a rota that was drawn up around what people no longer hold; nothing to say of other plans."""
    if not job.is_of_rota:
        return
    check_no_shift_begun(day, at)
    if not is_held_still(read_around(job.around), held_now(day)):
        raise PlanOutOfDate(
            "A shift changed hands after this rota was drawn up.", remedy="Draw the rota up again."
        )
