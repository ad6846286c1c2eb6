"""``drill beats``: two beats, three workers, and messages that are delivered again and again."""

from __future__ import annotations

from datetime import timedelta
from time import sleep

from celery import Celery

from kitchen.bench.processes import Place, ended_after, wait_until
from kitchen.bench.redis_server import free_port, redis_server
from kitchen.drill.control_task import NOTE, notes
from kitchen.drill.report import Drill, Report, Sizes
from kitchen.drill.under_celery import fall_due, judge_once, start_beats, start_workers, sweeps, wait_for
from kitchen.reminders.sweeping import SWEEP_TASK

_BY_HAND = 3
_ETA_SECONDS = 16
"""Three times as long as the broker waits for an acknowledgement (see the drill's settings)."""


def run(sizes: Sizes, place: Place, report: Report) -> None:
    """Reminders fall due while everything that wakes the sweep is there twice; tasks with a time are the control."""
    broker, control = f"redis://127.0.0.1:{(port := free_port())}/0", place.folder / "control"
    tasks = sizes["control"]
    with redis_server(port, place.folder), ended_after([]) as running:
        start_workers(running, place, broker, workers=3)
        start_beats(running, place, broker, beats=2)
        with Celery(broker=broker) as by_hand:
            for number in range(tasks):
                by_hand.send_task(NOTE, args=[str(control), number], countdown=_ETA_SECONDS)
            # The same message several times over, as a broker may deliver it.
            for _ in range(_BY_HAND):
                by_hand.send_task(SWEEP_TASK, task_id="one and the same")
        reminders = fall_due(sizes["reminders"], timedelta(seconds=_ETA_SECONDS))
        wait_for(reminders, what="The end of the reminders")
        wait_until(lambda: len(set(notes(control))) == tasks, what="The end of the control")
        sleep(3)  # Copies run within moments of each other.
        before = sweeps()
        wait_until(lambda: sweeps() > before + 4, what="More sweeps")
        judge_once(reminders, place, report)
    ran = len(notes(control))
    report.figure(f"control, left to the broker: {tasks} tasks ran {ran} times")
    report.promise("what waits in the broker is repeated, so the drill can tell", kept=ran > tasks)


BEATS = Drill(
    name="beats",
    about="Two beats and three workers at once; a control leaves tasks to the broker.",
    sizes={"reminders": 300, "control": 5},
    minutes=10,
    run=run,
)
