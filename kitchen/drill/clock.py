"""``drill clock``: the clock is moved, the machine starts anew and time zones change while reminders fall due.

The clocks are made up, so that hours pass in a moment: ``true`` is the time that it really is, which no sweep knows.
"""

from __future__ import annotations

import os
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from uuid import UUID

from django.db import connection
from django.test import override_settings

from kitchen.audit.models import AuditEvent
from kitchen.bench.paper_mail import sent_ids
from kitchen.bench.processes import Place
from kitchen.bench.sites import Site, make_site
from kitchen.bench.waiting import write_waiting
from kitchen.drill.report import Drill, Report, Sizes
from kitchen.reminders.clock import Reading
from kitchen.reminders.models import Notice, Reminder, State
from kitchen.reminders.rules import MOST_CLOCK_STEP
from kitchen.reminders.sweeping import sweep_due

_BEGIN = datetime(2026, 11, 1, 6, tzinfo=UTC)
"""Two hours before the clocks go back in the kitchen's zone."""
_PERIOD = timedelta(seconds=30)
_SWEEPS_A_STEP = 12
_AHEAD, _BACK, _A_LITTLE = timedelta(hours=26), timedelta(hours=-2), MOST_CLOCK_STEP - timedelta(seconds=10)
_ZONES = ("America/Denver", "Asia/Kathmandu", "Pacific/Auckland", "America/St_Johns")


@dataclass(slots=True, kw_only=True)
class _Clock:
    """A machine's clock that is off by ``error``, and since which start it counts."""

    true: datetime = _BEGIN
    error: timedelta = timedelta()
    starts: int = 1
    elapsed: float = 0
    alarms: int = 0

    def read(self) -> Reading:
        """What a sweep sees."""
        return Reading(
            wall=self.true + self.error, elapsed_seconds=self.elapsed, boot_id=f"start {self.starts}"
        )

    def move(self, by: timedelta) -> None:
        """Somebody sets the clock."""
        self.error += by
        self.alarms += abs(by) > MOST_CLOCK_STEP

    def start_anew(self) -> None:
        """After this nobody knows how long it was off."""
        self.starts, self.elapsed = self.starts + 1, 0


@dataclass(slots=True, kw_only=True)
class _Watch:
    """Sweeps with this clock, and when each reminder was really done."""

    clock: _Clock
    site: Site
    done_at: dict[UUID, datetime] = field(default_factory=dict)

    def sweep(self) -> None:
        """Half a minute passes, then a sweep."""
        self.clock.true += _PERIOD
        self.clock.elapsed += _PERIOD.total_seconds()
        sweep_due(clock=self.clock.read)
        done = Reminder.objects.filter(state=State.DONE).exclude(pk__in=list(self.done_at))
        self.done_at |= dict.fromkeys(done.values_list("pk", flat=True), self.clock.true)

    def sweeps(self, many: int) -> None:
        """So many, one after the other."""
        for _ in range(many):
            self.sweep()


def run(sizes: Sizes, place: Place, report: Report) -> None:
    """What may happen to a clock, in turn; then the control, which believes the clock whatever it shows."""
    mail = override_settings(
        EMAIL_BACKEND="kitchen.bench.paper_mail.EmailBackend", EMAIL_FILE_PATH=str(place.mail_file)
    )
    with mail, _own_zone():
        site = make_site(0, members=20, today=_BEGIN.date())
        rows = write_waiting(site, _due_times(sizes["reminders"], sizes["steps"]))
        due = {one.pk: one.due_at for one in rows}
        watch = _Watch(clock=_Clock(), site=site)
        watch.sweep()
        for number in range(sizes["steps"]):
            _HAPPENINGS[number % len(_HAPPENINGS)](watch, number)
            watch.sweeps(_SWEEPS_A_STEP)
        watch.sweeps(4)
        _judge(place, report, rows, due, watch)
        _control(report, watch)


def _ahead_and_put_right(watch: _Watch, _number: int) -> None:
    """The step by which a kitchen would be told to test its seals a day too early."""
    watch.clock.move(_AHEAD)
    watch.sweep()
    watch.clock.move(-_AHEAD)


def _back_and_put_right(watch: _Watch, _number: int) -> None:
    watch.clock.move(_BACK)
    watch.sweeps(2)
    watch.clock.move(-_BACK)


def _a_little(watch: _Watch, number: int) -> None:
    """As a time server does it."""
    watch.clock.move(_A_LITTLE if watch.clock.error <= timedelta() else -_A_LITTLE)


def _other_zones(watch: _Watch, number: int) -> None:
    """Of the machine, and of the kitchen."""
    os.environ["TZ"] = _ZONES[number % len(_ZONES)]
    time.tzset()
    watch.site.kitchen.time_zone = _ZONES[(number + 1) % len(_ZONES)]
    watch.site.kitchen.save(update_fields=["time_zone"])


def _start_anew(watch: _Watch, _number: int) -> None:
    watch.clock.start_anew()


_HAPPENINGS: tuple[Callable[[_Watch, int], None], ...] = (
    _ahead_and_put_right,
    _other_zones,
    _back_and_put_right,
    _a_little,
    _start_anew,
)


def _due_times(many: int, steps: int) -> list[datetime]:
    """Spread over all that happens."""
    lasts = _PERIOD * (_SWEEPS_A_STEP * steps)
    return [_BEGIN + lasts * (number + 1) / (many + 1) for number in range(many)]


def _judge(
    place: Place, report: Report, rows: Sequence[Reminder], due: dict[UUID, datetime], watch: _Watch
) -> None:
    ids = Counter(sent_ids(place.mail_file))
    late = max((watch.done_at[pk] - at for pk, at in due.items() if pk in watch.done_at), default=timedelta())
    alarms = AuditEvent.objects.filter(action="clock_moved").count()
    report.figure(
        f"{connection.vendor}: {len(rows)} reminders over {watch.clock.true - _BEGIN} of a clock that was moved "
        f"{watch.clock.alarms} times; {alarms} alarms, the latest {late.total_seconds():.0f} s late"
    )
    report.promise("every reminder is done", kept=watch.done_at.keys() == due.keys())
    report.promise("every e-mail went out once", kept=ids == {f"<reminder-{pk}@localhost>": 1 for pk in due})
    report.promise("one notice for each", kept=Notice.objects.count() == len(due))
    report.promise("every step is an alarm, and nothing else is", kept=alarms == watch.clock.alarms)
    report.promise(
        f"none went out before its time, but for the {_A_LITTLE.total_seconds():.0f} s that are no step",
        kept=all(watch.done_at[pk] >= at - _A_LITTLE for pk, at in due.items() if pk in watch.done_at),
    )
    report.promise(
        "zones and clocks moved no time that was written down",
        kept=dict(Reminder.objects.filter(pk__in=due).values_list("pk", "due_at")) == due,
    )


def _control(report: Report, watch: _Watch) -> None:
    """Whoever believes the clock sends a day too early."""
    ahead = watch.clock.true + timedelta(hours=12)
    write_waiting(make_site(1, members=2, today=ahead.date()), [ahead])
    watch.clock.move(_AHEAD)
    sent = sweep_due(now=watch.clock.read().wall).sent
    report.figure(f"control, by the clock alone: {sent} sent 12 hours early")
    report.promise("whoever believes the clock is early, so the drill can tell", kept=sent == 1)


@contextmanager
def _own_zone() -> Iterator[None]:
    """The machine's zone, whatever it was, is left as it was."""
    before = os.environ.get("TZ")
    try:
        yield
    finally:
        if before is None:
            os.environ.pop("TZ", None)
        else:
            os.environ["TZ"] = before
        time.tzset()


CLOCK = Drill(
    name="clock",
    about="The clock is moved ahead and back and time zones change; a control believes the clock.",
    sizes={"reminders": 500, "steps": 50},
    minutes=5,
    run=run,
)
