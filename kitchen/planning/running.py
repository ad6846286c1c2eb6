"""Running a planning job from its row to its answer, in whatever process this is."""

from __future__ import annotations

from collections.abc import Callable

from kitchen.errors import KitchenError
from kitchen.planning.bridge import day_digest, dump_day, dump_plan, plan_day, plan_rest, question_of
from kitchen.planning.bridge.kept import draw_up, dump_around, read_around
from kitchen.planning.jobs import fail_job, finish_job, keep_alive, note_progress, note_rota, start_job
from kitchen.planning.models import PlanJob

_SPEAK_EVERY_SECONDS = 0.5


def run_job(job_id: int, *, clock: Callable[[], float]) -> bool:
    """Plan what a waiting job asks for and keep the answer; False when the job is not there to be taken.

    ``clock`` counts seconds. Whatever goes wrong ends the job as failed, with the reason for the lead.
    """
    job = start_job(job_id=job_id)
    if job is None:
        return False
    finished = False
    try:
        _plan(job, clock)
        finished = True
    except KitchenError as error:
        fail_job(job_id=job_id, failure=str(error))
        finished = True
    finally:
        if not finished:
            # Not one of the kitchen's own refusals: the worker's log has it, the lead needs to know as well.
            fail_job(
                job_id=job_id, failure="The planner broke down. Plan again; if it happens again, report it."
            )
    return True


def _plan(job: PlanJob, clock: Callable[[], float]) -> None:
    day = question_of(job)
    if day_digest(day) != job.input_hash:
        fail_job(job_id=job.pk, failure="The day changed before planning began. Plan again.")
        return
    time_to_tell, time_to_ask = Seldom(clock), Seldom(clock)

    def tell(report: dict[str, object]) -> None:
        if time_to_tell():
            note_progress(job_id=job.pk, progress=report)

    def should_stop() -> bool:
        return time_to_ask() and not keep_alive(job_id=job.pk)

    if job.around is not None:
        plan, drawn = draw_up(day, read_around(job.around), seed=job.seed)
        note_rota(job_id=job.pk, around=dump_around(drawn))
    elif job.follows is not None:
        plan = plan_rest(day, job.follows.plan, seed=job.seed, clock=clock, should_stop=should_stop)
    else:
        plan = plan_day(
            day,
            seconds=job.seconds_limit,
            seed=job.seed,
            clock=clock,
            on_progress=tell,
            should_stop=should_stop,
        )
    finish_job(job_id=job.pk, plan=dump_plan(plan), day=dump_day(day))


class Seldom:
    """Says when it is time again to speak to the database: the planner reports and asks far more often."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._last: float | None = None

    def __call__(self) -> bool:
        """True when it is time; the first time always."""
        now = self._clock()
        if self._last is not None and now - self._last < _SPEAK_EVERY_SECONDS:
            return False
        self._last = now
        return True
