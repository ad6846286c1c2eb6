"""What a sweeper does in its process."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable
from datetime import datetime, timedelta
from time import sleep
from typing import NoReturn
from unittest.mock import patch
from uuid import uuid4

from kitchen.bench.paper_mail import Moment, die_at
from kitchen.reminders import claims, sweeping
from kitchen.reminders.claims import Claim
from kitchen.reminders.models import Reminder, State
from kitchen.reminders.queries import due


def sweeper(
    until: datetime, lease_seconds: float, *, with_claims: bool
) -> Callable[[int, str | None], NoReturn]:
    """A sweep until nothing is left that is due up to ``until``, as the whole life of a process.

    A drill cannot wait for minutes until a claim runs out, so its length is given. Without claims each sweep sends
    whatever it has read.
    """
    lease = timedelta(seconds=lease_seconds)
    patch.object(claims, "LEASE", lease).start()
    if not with_claims:
        patch.object(sweeping, "claim_due", _claim_without_asking(lease)).start()

    def live(message: int, moment: str | None) -> NoReturn:
        if moment is not None:
            die_at(message, Moment(moment))
        status = 1
        try:
            _sweep_until_nothing_is_left(until)
            status = 0
        finally:
            # A child must not go on in its parent's loop, whatever happened to it.
            if status:
                traceback.print_exc(file=sys.stderr)
            os._exit(status)

    return live


def _sweep_until_nothing_is_left(until: datetime) -> None:
    left = Reminder.objects.filter(state__in=(State.DUE, State.SENDING), due_at__lte=until)
    while left.exists():
        sweeping.sweep_due()
        sleep(0.01)  # What is left is another's for now, or its time is yet to come.


def _claim_without_asking(lease: timedelta) -> Callable[..., list[Claim]]:
    """What a sweep would do that trusts what it once read: take the rows whatever has become of them."""
    read: list[Reminder] = []

    def claim_due(*, now: datetime, held_from: datetime | None, limit: int) -> list[Claim]:
        if not read:
            read.extend(due(now, held_from=held_from).order_by("next_attempt_at"))
        taken, read[:] = read[:limit], read[limit:]
        token = uuid4()
        rows = Reminder.objects.filter(pk__in=[one.pk for one in taken]).exclude(state=State.DONE)
        rows.update(state=State.SENDING, claim_token=token, lease_until=now + lease)
        return [Claim(reminder=one, token=token) for one in taken]

    return claim_due
