"""Running a what-if job from its row to its answers, in whatever process this is."""

from __future__ import annotations

from collections.abc import Callable

from kitchen.errors import KitchenError
from kitchen.planning.asking import fail_what_if, finish_what_if, keep_asking, note_answered, start_what_if
from kitchen.planning.bridge import ask_what_if
from kitchen.planning.models import PLAN_SECONDS, PLAN_SEED, WhatIfJob
from kitchen.planning.running import Seldom

WHAT_IF_SECONDS = 60.0
"""The limit of a search. What is found by then is shown, and that there was no time for more."""


def run_what_if(asked_id: int, *, clock: Callable[[], float]) -> bool:
    """Look for what a waiting row asks and keep the answers; False when the row is not there to be taken.

    ``clock`` counts seconds. Whatever goes wrong ends the row as failed, with the reason for the lead.
    """
    asked = start_what_if(asked_id=asked_id)
    if asked is None:
        return False
    finished = False
    try:
        finish_what_if(asked_id=asked_id, found=_answers(asked, clock))
        finished = True
    except KitchenError as error:
        fail_what_if(asked_id=asked_id, failure=str(error))
        finished = True
    finally:
        if not finished:
            # Not one of the kitchen's own refusals: the worker's log has it, the lead needs to know as well.
            fail_what_if(
                asked_id=asked_id, failure="The search broke down. Ask again; if it happens again, report it."
            )
    return True


def _answers(asked: WhatIfJob, clock: Callable[[], float]) -> object:
    time_to_ask = Seldom(clock)
    return ask_what_if(
        asked.job.day,
        asked.job.plan,
        plan_seconds=PLAN_SECONDS,
        plan_seed=PLAN_SEED,
        seconds=WHAT_IF_SECONDS,
        clock=clock,
        on_progress=lambda answered, of: note_answered(asked_id=asked.pk, answered=answered, of=of),
        should_stop=lambda: time_to_ask() and not keep_asking(asked_id=asked.pk),
    )
