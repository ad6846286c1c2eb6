"""``drill broker``: Redis is emptied, stopped and started again while workers send reminders."""

from __future__ import annotations

from datetime import timedelta
from time import sleep

from celery import Celery

from kitchen.bench.processes import Place, ended_after, wait_until
from kitchen.bench.redis_server import free_port, redis_server
from kitchen.drill.control_task import NOTE, notes
from kitchen.drill.report import Drill, Report, Sizes
from kitchen.drill.under_celery import fall_due, judge_once, start_beats, start_workers, wait_for
from kitchen.reminders.models import Reminder, State

_FLUSHES = 5
_ETA_SECONDS = 6


def run(sizes: Sizes, place: Place, report: Report) -> None:
    """A third of the reminders falls due while Redis is emptied again and again, a third while there is none."""
    each, stopped = sizes["reminders"] // 3, sizes["stopped"]
    port = free_port()
    broker = f"redis://127.0.0.1:{port}/0"
    with ended_after([]) as running:
        with redis_server(port, place.folder) as redis:
            start_workers(running, place, broker, workers=2)
            start_beats(running, place, broker, beats=1)
            first = fall_due(each, timedelta(seconds=_FLUSHES))
            for _ in range(_FLUSHES):
                sleep(1)  # Time in which messages come and go.
                redis.flushall()
            wait_for(first, what="The end of the reminders after Redis was emptied")
            _leave_to_the_broker(sizes["control"], place, broker)
        second = fall_due(each, timedelta(seconds=stopped))
        sleep(stopped)  # The time without a broker is what the drill is about.
        late = Reminder.objects.filter(pk__in=[one.pk for one in second]).exclude(state=State.DONE).count()
        with redis_server(port, place.folder):
            third = fall_due(sizes["reminders"] - 2 * each, timedelta(seconds=2))
            wait_for([*second, *third], what="The end of the reminders after Redis came back")
            report.figure(
                f"Redis emptied {_FLUSHES} times and away for {stopped} s; then {late} reminders waited for it"
            )
            judge_once([*first, *second, *third], place, report)
            _judge_control(sizes["control"], place, report, broker)


def _leave_to_the_broker(many: int, place: Place, broker: str) -> None:
    """Tasks that the broker is to keep until their time, all of which is after it was stopped."""
    with Celery(broker=broker) as by_hand:
        for number in range(many):
            by_hand.send_task(
                NOTE, args=[str(place.folder / "control"), number], countdown=_ETA_SECONDS, queue="waiting"
            )


def _judge_control(many: int, place: Place, report: Report, broker: str) -> None:
    """A worker looks for what was left to the broker, well after its time, and for one task more that it does find."""
    with ended_after([]) as running, Celery(broker=broker) as by_hand:
        by_hand.send_task(NOTE, args=[str(place.folder / "control"), many], queue="waiting")
        start_workers(running, place, broker, workers=1, queue="waiting")
        wait_until(lambda: str(many) in notes(place.folder / "control"), what="A task of the control")
    came = len(notes(place.folder / "control")) - 1
    report.figure(f"control, left to the broker: {came} of {many} tasks ran")
    report.promise("what waits in the broker is lost with it, so the drill can tell", kept=came < many)


BROKER = Drill(
    name="broker",
    about="Redis is emptied, stopped and started again; a control leaves tasks to the broker.",
    sizes={"reminders": 300, "stopped": 20, "control": 5},
    minutes=10,
    run=run,
)
