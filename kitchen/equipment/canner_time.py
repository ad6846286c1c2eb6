"""Taking canner time, and giving it up: no canner twice, and no burner."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from typing import ParamSpec, TypeVar

from django.db import IntegrityError, OperationalError, connection, transaction
from django.utils import timezone

from kitchen.equipment.models import Canner, CannerTime, Purpose
from kitchen.equipment.queries import burner_times_between, times_between
from kitchen.equipment.rules import check_span
from kitchen.errors import SlotTaken

# How often a booking that the database broke off (deadlock, serialisation failure) is tried.
MOST_TRIES = 3
_BROKEN_OFF = frozenset({"40P01", "40001"})
_CONSTRAINT = "canner_time_no_double_booking"
# Namespaces of the advisory locks: canners are locked before burners, each in the order of their ids.
_LOCK_CANNER, _LOCK_BURNER = 5391, 5392

P = ParamSpec("P")
R = TypeVar("R")


@dataclass(frozen=True, slots=True, kw_only=True)
class WantedTime:
    """A canner wanted from ``starts_at`` up to ``ends_at``."""

    canner: Canner
    starts_at: datetime
    ends_at: datetime


def booking(action: Callable[P, R]) -> Callable[P, R]:
    """Run an action that books canner time in one transaction; a lost race becomes ``SlotTaken``.

    What the database broke off because of others is tried again, at most three times, unless a caller's
    transaction is open: that one is lost and only the caller can begin again. On SQLite that is a writer who found no
    gap between the others for as long as it may wait: they take turns by chance.
    """

    @wraps(action)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
        nested = connection.in_atomic_block
        for _ in range(1 if nested else MOST_TRIES):
            try:
                with transaction.atomic():
                    return action(*args, **kwargs)
            except OperationalError as error:
                if not _broken_off(error):
                    raise
            except IntegrityError as error:
                if _CONSTRAINT not in str(error):
                    raise
                raise _taken(()) from error
        raise _taken(())

    return guarded


def _broken_off(error: OperationalError) -> bool:
    if isinstance(error.__cause__, sqlite3.OperationalError):
        return error.__cause__.sqlite_errorcode == sqlite3.SQLITE_BUSY
    return getattr(error.__cause__, "sqlstate", None) in _BROKEN_OFF


def book_time(
    *,
    canner: Canner,
    starts_at: datetime,
    ends_at: datetime,
    purpose: Purpose,
    held_until: datetime | None = None,
    now: datetime | None = None,
) -> CannerTime:
    """Take one canner for a span. Call it inside an action that is a ``booking`` and has checked who may.

    With ``held_until`` it is only held, and free again from then on.
    """
    wish = WantedTime(canner=canner, starts_at=starts_at, ends_at=ends_at)
    return book_times(wanted=[wish], purpose=purpose, held_until=held_until, now=now)[0]


def book_times(
    *,
    wanted: Sequence[WantedTime],
    purpose: Purpose,
    held_until: datetime | None = None,
    now: datetime | None = None,
) -> list[CannerTime]:
    """Take several canners at once, all or none.

    Refused with ``SlotTaken``: a canner that is taken, or whose burner another canner uses then. Canners of
    one call may share a burner; the judge has looked at those.
    """
    _lock(wish.canner for wish in wanted)
    _free_lapsed(wanted, now or timezone.now())
    _refuse_clashes(wanted)
    return [
        CannerTime.objects.create(
            kitchen_id=wish.canner.kitchen_id,
            canner=wish.canner,
            starts_at=wish.starts_at,
            ends_at=wish.ends_at,
            purpose=purpose,
            held_until=held_until,
        )
        for wish in wanted
    ]


def keep_time(*, time: CannerTime) -> None:
    """What was held is booked."""
    time.held_until = None
    time.save(update_fields=["held_until"])


def give_up_times(times: Iterable[CannerTime]) -> None:
    """Free canner time. The rows stay, for the record."""
    CannerTime.objects.filter(pk__in=[time.pk for time in times]).update(occupies=False)


def _lock(canners: Iterable[Canner]) -> None:
    """On PostgreSQL let one booking at a time look at these canners and burners; on SQLite a writer is alone
    anyway.
    """
    if connection.vendor != "postgresql":
        return
    both = [(canner.pk, canner.burner_id) for canner in canners]
    keys = [(_LOCK_CANNER, pk) for pk in sorted({pk for pk, _ in both})]
    keys += [(_LOCK_BURNER, pk) for pk in sorted({pk for _, pk in both})]
    with connection.cursor() as cursor:
        for key in keys:
            cursor.execute("SELECT pg_advisory_xact_lock(%s, %s)", key)


def _free_lapsed(wanted: Sequence[WantedTime], now: datetime) -> None:
    """Free what was only held, and for too long, on these canners and burners: no timer does."""
    burners = {wish.canner.burner_id for wish in wanted}
    held = CannerTime.objects.filter(canner__burner_id__in=burners, occupies=True, held_until__isnull=False)
    held.filter(held_until__lte=now).update(occupies=False)


def _refuse_clashes(wanted: Sequence[WantedTime]) -> None:
    for wish in wanted:
        check_span(wish.starts_at, wish.ends_at)
        clashes = list(times_between(wish.canner, wish.starts_at, wish.ends_at).order_by("starts_at"))
        if clashes:
            raise _taken(clashes, f"{wish.canner} is taken")
        clashes = list(burner_times_between(wish.canner, wish.starts_at, wish.ends_at).order_by("starts_at"))
        if clashes:
            raise _taken(clashes, f"The burner of {wish.canner} is taken by {clashes[0].canner}")


def _taken(
    clashes: Sequence[CannerTime], what: str = "The canner was taken by somebody else just now"
) -> SlotTaken:
    spans = tuple((clash.starts_at, clash.ends_at) for clash in clashes)
    zone = clashes[0].kitchen.zone if clashes else None
    told = ", ".join(
        f"{start.astimezone(zone):%a %d %b %H:%M} to {end.astimezone(zone):%H:%M}" for start, end in spans
    )
    return SlotTaken(
        f"{what}: {told}." if told else f"{what}.",
        remedy="Choose another time or another canner.",
        clashes=spans,
    )
