"""The sweep: send every reminder whose time has come."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from time import monotonic

import structlog

from kitchen.errors import NotDelivered
from kitchen.hints import send_hint
from kitchen.reminders.claims import Claim, claim, claim_due, complete, gather, give_back, put_off, wait
from kitchen.reminders.clock import Reading, read_clock, stopped_at
from kitchen.reminders.delivery import Post
from kitchen.reminders.message import message_of
from kitchen.reminders.models import State
from kitchen.reminders.queries import left_behind_ids
from kitchen.reminders.rules import LEASE, MOST_CLAIMS
from kitchen.reminders.runs import Run, begin_run, finish_run
from kitchen.reminders.timing import Decision, Way, decide, digest_name

SWEEP_TASK = "kitchen.reminders.tasks.sweep_due"
CLAIMED_AT_ONCE = 50
LONGEST_SWEEP_SECONDS = 30
"""A sweep is a guest in its worker. The next one goes on where it stopped, at once."""
MOST_A_SWEEP = 5_000
"""A guard for clocks that stand still."""
MOST_UNNOTED_SECONDS = 1
"""After so long what was sent is written down: should the sweep die, no more than that is sent twice."""
MOST_OF_A_LEASE = LEASE / 3
"""Of a claim of several, no message is begun later than this: one may take some minutes, each answer 20 seconds."""

log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Swept:
    """What one sweep did: messages sent, put off or given up, and by how much the clock was moved."""

    sent: int
    put_off: int
    given_up: int
    step_seconds: float


def sweep_due(*, now: datetime | None = None, clock: Callable[[], Reading] = read_clock) -> Swept:
    """Send every reminder whose time has come. Sweeps may run at once; each reminder goes to one of them.

    ``now`` sets the time, for a caller who knows better than the clock; then no step of the clock is looked
    for. Messages are sent outside any transaction, and one that fails does not keep the others.
    """
    read = clock if now is None else stopped_at(now)
    run = begin_run(read())
    with Post() as post:
        sweep = _Sweep(run=run, read=read, post=post, began=monotonic())
        ended = sweep.all_there_is()
    counts = sweep.counts
    swept = Swept(
        sent=counts[State.DONE],
        put_off=counts[State.DUE],
        given_up=counts[State.FAILED],
        step_seconds=run.step_seconds,
    )
    finish_run(run, at=read().wall, sent=swept.sent, put_off=swept.put_off + swept.given_up)
    if not ended:
        send_hint(SWEEP_TASK)
    return swept


@dataclass(slots=True, kw_only=True)
class _Sweep:
    """A sweep under way. ``unnoted`` went out and is not written down yet.

    How long something takes is measured by a clock that nobody can set.
    """

    run: Run
    read: Callable[[], Reading]
    post: Post
    began: float
    counts: Counter[State] = field(default_factory=Counter)
    unnoted: list[Claim] = field(default_factory=list)

    def all_there_is(self) -> bool:
        """Send what is due, or what there is time for; whether that was all."""
        for claims, claimed_at in self._claims():
            self._send_all(claims, claimed_at)
            if sum(self.counts.values()) >= MOST_A_SWEEP or monotonic() - self.began > LONGEST_SWEEP_SECONDS:
                return False
        return True

    def _claims(self) -> Iterator[tuple[list[Claim], datetime]]:
        """What to send next, with the time at which it was claimed.

        What a dead sweep left behind comes one by one: if a message killed it, that one stands alone at the next
        attempt and takes no others along. What becomes due while this sweep lasts is left to the next: a clock that is
        moved meanwhile is only noticed there.
        """
        believed = self.run.wall if self.run.held is None else min(self.run.wall, self.run.held)
        for reminder_id in left_behind_ids(believed, limit=MOST_A_SWEEP):
            now = self.read().wall
            claimed = claim(reminder_id, now=now, held_from=believed)
            if claimed:
                yield [claimed], now
        asked_for_help = False
        while True:
            now = self.read().wall
            claims = claim_due(now=now, held_from=believed, limit=CLAIMED_AT_ONCE)
            if not claims:
                return
            if len(claims) == CLAIMED_AT_ONCE and not asked_for_help:
                # There is more than this: a worker with nothing to do begins beside this one.
                asked_for_help = send_hint(SWEEP_TASK)
            yield claims, now

    def _send_all(self, claims: list[Claim], claimed_at: datetime) -> None:
        began = noted = monotonic()
        for number, claimed in enumerate(claims):
            since = monotonic() - began
            if number and since > MOST_OF_A_LEASE.total_seconds():
                give_back(claims[number:])
                break
            if monotonic() - noted > MOST_UNNOTED_SECONDS:
                self._note()
                noted = monotonic()
            self._send(claimed, claimed_at + timedelta(seconds=since))
        self._note()

    def _send(self, claimed: Claim, now: datetime) -> None:
        reminder = claimed.reminder
        decision = decide(reminder, now=now)
        if decision.way is not Way.SEND and self._keep(claimed, decision):
            return
        try:
            if reminder.attempts > MOST_CLAIMS:
                raise NotDelivered(
                    "Every sweep that tried to send this ended before it was done.", remedy="Look at the log."
                )
            self.post.deliver(message_of(reminder, now=now))
        except NotDelivered as error:
            log.warning("reminder not sent", reminder=str(reminder.pk), reason=error.message)
            state = put_off(claimed, now=self.read().wall, failure=error.message)
            if state is not None:
                self.counts[state] += 1
        else:
            self.unnoted.append(claimed)

    def _keep(self, claimed: Claim, decision: Decision) -> bool:
        """Do with it what its reader chose; False where it must be sent after all."""
        now, until = self.read().wall, decision.until
        if decision.way is Way.SHOW:
            self.counts[State.DONE] += complete([claimed], now=now, mailed=False)
        elif until is not None and decision.way is Way.WAIT:
            wait(claimed, now=now, until=until)
        elif until is not None:
            gathered = gather(claimed, now=now, at=until, about=digest_name(claimed.reminder, until))
            self.counts[State.DONE] += gathered
            return gathered
        return True

    def _note(self) -> None:
        if self.unnoted:
            self.counts[State.DONE] += complete(self.unnoted, now=self.read().wall)
            self.unnoted = []
