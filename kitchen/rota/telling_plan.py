"""News of a new plan for those whose shifts it changes: one message a person, and none where nothing changed."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime

from kitchen.members.models import User
from kitchen.planning.models import HarvestDay
from kitchen.reminders.actions import tell
from kitchen.rota.models import Shift, SwapOffer
from kitchen.rota.telling import hours_words, lapsed_words, rota_path, shift_words

_ANEW = "A new plan was published. It says who does what from now on, also where shifts were taken or swapped before."


def tell_new_plan(
    day: HarvestDay,
    before: Sequence[Shift],
    after: Sequence[Shift],
    lapsed: Sequence[tuple[SwapOffer, str]],
    *,
    replaces: bool,
    at: datetime,
) -> None:
    """Tell each person which shifts they lost, got or have at another time, and which offers lapsed with that.

    The first plan of a day is no news to those who get work from it; only what it takes away is told.
    """
    people = {one.user_id: one.user for one in (*before, *after)}
    people |= {
        user.pk: user for offer, _ in lapsed for user in (offer.offered_by, offer.to) if user is not None
    }
    shifts_before, shifts_after = _by_person(before), _by_person(after)
    for key, user in people.items():
        if user is None:
            continue
        mine = [
            lapsed_words(offer, why, user)
            for offer, why in lapsed
            if key in (offer.offered_by_id, offer.to_id)
        ]
        changed = changes(shifts_before[key], shifts_after[key])
        if replaces or any(line.startswith(_LOST) for line in changed):
            _tell(day, user, changed, mine, at)
        else:
            _tell(day, user, [], mine, at)


_LOST = "No longer yours: "


def changes(before: Sequence[Shift], after: Sequence[Shift]) -> list[str]:
    """What changes for one person, line by line: what is no longer theirs, what is at another time, what is new.

    A load that another number or row stands for now is the same work.
    """
    rows = {shift.pk: shift for shift in after}
    same = Counter(map(_seen, before)) & Counter(map(_seen, after))
    lost, got = _without(before, Counter(same)), _without(after, Counter(same))
    moved = {one.pk for one in lost} & {one.pk for one in got}
    return [
        *(f"{_LOST}{shift_words(one)}" for one in lost if one.pk not in moved),
        *(
            f"At another time: {shift_words(rows[one.pk])}; it was {hours_words(one)}"
            for one in lost
            if one.pk in moved
        ),
        *(f"Yours now: {shift_words(one)}" for one in got if one.pk not in moved),
    ]


def _tell(day: HarvestDay, user: User, changed: list[str], lapsed: list[str], at: datetime) -> None:
    if not changed and not lapsed:
        return
    date = f"{day.date:%A %-d %B}"
    title = f"A new plan changes your shifts on {date}" if changed else f"An offer has lapsed: {date}"
    lines = [_ANEW, *changed, *lapsed]
    tell(
        kitchen=day.kitchen,
        to=[user],
        title=title,
        lines=lines,
        path=rota_path(day, "rota:mine"),
        at=at,
        begins=day.opens_at,
    )


def _by_person(shifts: Iterable[Shift]) -> defaultdict[int | None, list[Shift]]:
    found: defaultdict[int | None, list[Shift]] = defaultdict(list)
    for shift in shifts:
        found[shift.user_id].append(shift)
    return found


def _without(shifts: Iterable[Shift], same: Counter[tuple[object, ...]]) -> list[Shift]:
    left = []
    for shift in shifts:
        if same[_seen(shift)]:
            same[_seen(shift)] -= 1
        else:
            left.append(shift)
    return left


def _seen(shift: Shift) -> tuple[object, ...]:
    """What a person goes by: where, what, at which canner and when."""
    canner = shift.load.canner_id if shift.load is not None else None
    return shift.station, shift.task, canner, shift.starts_at, shift.ends_at
