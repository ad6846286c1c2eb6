"""Noting where jars went, and as what they were processed again."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.labels.models import MoveKind, Reprocess, ShelfMove
from kitchen.labels.queries import Lot, lots_of_load, lots_of_portion
from kitchen.labels.rules import check_may_move, check_move, check_reprocess, why_late
from kitchen.members.models import User
from kitchen.members.rules import Deed, check_may
from kitchen.planning.loads import hold_load, locked_load, note_used_up
from kitchen.planning.models import Load, LoadPortion
from kitchen.seals.models import ReprocessOffer


@transaction.atomic
def move_jars(
    *,
    portion: LoadPortion,
    kind: MoveKind,
    jars: int,
    by: User,
    note: str = "",
    at: datetime | None = None,
    now: datetime | None = None,
) -> ShelfMove:
    """Note that sealed jars left the shelf, or came back to it. ``note`` says to whom or why.

    Refused: more jars than are on hand, jars that are on hold or not checked (rule S16), jars given to nobody named.
    """
    now = now or timezone.now()
    at = at or now
    lot = _locked(portion)
    check_may_move(by, lot)
    note = note.strip()
    check_move(lot, kind, jars, note, at, now)
    move = ShelfMove.objects.create(
        portion=portion, kind=kind, jars=jars, note=note, at=at, recorded_at=now, recorded_by=by
    )
    record(
        actor=by,
        kitchen=lot.kitchen,
        action="move_jars",
        subject=move,
        after=snapshot(move, "portion", "kind", "jars", "note", "at"),
    )
    _note_what_is_left(lot.load)
    return move


@transaction.atomic
def note_reprocess(
    *, portion: LoadPortion, again: LoadPortion, by: User, now: datetime | None = None
) -> Reprocess:
    """Note that the unsealed jars of a portion are those of a later one, and carry its lot code from then on.

    A second process that did not begin within 24 hours of the end of the first puts the later load on hold (rules S11
    and S16): a fact is noted, whatever it breaks.
    """
    lot = _locked(portion)
    check_may(by, lot.kitchen, Deed.RUN_LOAD)
    later = _locked(again)
    offer = check_reprocess(lot, ReprocessOffer.objects.filter(portion=portion).first(), later)
    noted = Reprocess.objects.create(
        offer=offer, portion=again, recorded_by=by, recorded_at=now or timezone.now()
    )
    record(
        actor=by,
        kitchen=lot.kitchen,
        action="note_reprocess",
        subject=noted,
        after=snapshot(noted, "offer", "portion"),
    )
    late = why_late(lot, later.load)
    if late:
        hold_load(load=later.load, deviations=[late], actor=by)
    return noted


def _note_what_is_left(load: Load) -> None:
    """Say of a load, which is locked, whether the shelf still has to look at it."""
    lots = lots_of_load(load)
    note_used_up(load, used_up=all(lot.sealed is not None and lot.taken >= lot.sealed for lot in lots))


def _locked(portion: LoadPortion) -> Lot:
    """The lot as it stands once nobody else can change its counts, its moves or its hold."""
    locked_load(portion.load_id)
    (lot,) = lots_of_portion(portion)
    return lot
