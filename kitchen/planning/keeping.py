"""Asking for the rota of a published plan to be drawn up again around those whom the lead keeps."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from kitchen.members.models import User
from kitchen.members.rules import Deed, check_may
from kitchen.planning.actions import REST_SECONDS, queue_job
from kitchen.planning.bridge import day_digest, day_of
from kitchen.planning.bridge.kept import around, dump_around
from kitchen.planning.held import check_no_shift_begun, held_now
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.rules import check_may_be_planned


@transaction.atomic
def request_rota(
    *,
    harvest_day: HarvestDay,
    chosen: Mapping[int, int],
    actor: User,
    few_changes: bool = False,
    seed: int = 1,
    now: datetime | None = None,
) -> PlanJob:
    """Ask for the rota again; a worker draws it up in a second or two. Loads and times stay as published.

    ``chosen`` gives, by the key of a shift, the key of the person who is to have it; all others are the rota's to
    choose, near to what people hold now; with ``few_changes`` nobody is moved only for a fairer share. Refused: a day
    without a published plan, one of which the first shift has begun, one being planned already, and with ``CannotKeep``
    a choice that breaks a rule.
    """
    check_may(actor, harvest_day.kitchen, Deed.DRAW_ROTA)
    now = now or timezone.now()
    row = HarvestDay.objects.select_for_update(of=("self",)).select_related("kitchen").get(pk=harvest_day.pk)
    check_may_be_planned(row)
    standing = held_now(row)
    check_no_shift_begun(row, now)
    day = day_of(row)
    job = PlanJob(
        harvest_day=row,
        seconds_limit=REST_SECONDS,
        seed=seed,
        day_version=row.version,
        requested_by=actor,
        created_at=now,
        around=dump_around(around(day, standing, chosen, few_changes=few_changes)),
    )
    job.input_hash = day_digest(day)
    return queue_job(job, actor, action="request_rota")
