"""Noting what a whole table brings: all rows that were looked at, or none."""

from __future__ import annotations

from django.db import transaction

from kitchen.batches.actions import declare_batch
from kitchen.batches.intake_rows import Row, read_rows
from kitchen.batches.models import Batch
from kitchen.errors import BadTable
from kitchen.language.said import said
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_may


@transaction.atomic
def bring_table(
    *,
    kitchen: Kitchen,
    harvest_day_id: int,
    text: str,
    actor: User,
    skip_wrong: bool = False,
    looked_at: frozenset[int] | None = None,
) -> list[Batch]:
    """Declare a batch for each row without a problem, in one transaction, each as ``declare_batch`` does.

    A row with a problem refuses the whole table unless ``skip_wrong``; ``looked_at`` are the rows that somebody was
    shown as fine: refused when others are by now. The rows are read again while the day's row is held, so a press that
    comes twice notes nothing twice.
    """
    check_may(actor, kitchen, Deed.DECLARE_BATCH)
    kitchen.harvest_days.select_for_update().get(pk=harvest_day_id)
    rows = read_rows(kitchen=kitchen, harvest_day_id=harvest_day_id, text=text, actor=actor)
    fine = [row for row in rows if not row.problems]
    if looked_at is not None and looked_at != {row.number for row in fine}:
        raise BadTable(
            "Not the same rows can be noted as when you looked.",
            remedy="Look at them again, then press.",
            problems=_problems(rows),
        )
    if not fine or (len(fine) < len(rows) and not skip_wrong and looked_at is None):
        raise BadTable(
            f"{len(rows) - len(fine)} of {len(rows)} rows cannot be noted.",
            remedy="Correct them.",
            problems=_problems(rows),
        )
    return [
        declare_batch(
            kitchen=kitchen,
            harvest_day_id=harvest_day_id,
            member=one.member,
            food=one.food,
            pack=one.pack,
            jar=one.jar,
            amount=one.amount,
            unit=one.unit,
            arrives_at=one.arrives_at,
            picks_up_at=one.picks_up_at,
            actor=actor,
        )
        for one in (row.wanted for row in fine)
        if one is not None
    ]


def _problems(rows: list[Row]) -> tuple[str, ...]:
    return tuple(
        f"Row {row.number}, {said(one.column)}: {said(one.message)} {said(one.remedy)}"
        if one.column
        else f"Row {row.number}: {said(one.message)} {said(one.remedy)}"
        for row in rows
        for one in row.problems
    )
