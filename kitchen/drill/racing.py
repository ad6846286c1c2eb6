"""What one racer does: book, lose, give back."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from random import Random

from django.utils import timezone

from kitchen.batches.actions import book_slot, cancel_slot
from kitchen.batches.models import Slot
from kitchen.equipment.models import Canner
from kitchen.errors import KitchenError, SlotTaken
from kitchen.members.models import Kitchen, Role, User

DAYS = 7
_GIVEN_BACK = 0.4
"""How often a racer gives one of its bookings back after an attempt, so that there is always something to be won."""


def race(slug: str, attempts: int, dice: Random) -> list[dict[str, object]]:
    """Try so often. For each attempt what was wanted and how it ended.

    That is ``booked``, ``taken`` with what was in the way, or ``failed`` with the error.
    """
    kitchen = Kitchen.objects.get(slug=slug)
    members = list(User.objects.filter(memberships__kitchen=kitchen, memberships__role=Role.MEMBER))
    canners, mine, told = list(kitchen.canners.order_by("pk")), list[Slot](), list[dict[str, object]]()
    tomorrow = timezone.now().astimezone(kitchen.zone).date() + timedelta(days=1)
    for _ in range(attempts):
        day = tomorrow + timedelta(days=dice.randrange(DAYS))
        starts_at = datetime.combine(day, time(7), kitchen.zone) + timedelta(
            minutes=dice.randrange(0, 600, 10)
        )
        ends_at = starts_at + timedelta(minutes=dice.choice((60, 110, 180, 240)))
        told.append(_try(kitchen, dice.choice(members), dice.choice(canners), starts_at, ends_at, mine))
        if mine and dice.random() < _GIVEN_BACK:
            given_back = mine.pop(dice.randrange(len(mine)))
            cancel_slot(slot=given_back, actor=given_back.member)
    return told


def _try(
    kitchen: Kitchen, member: User, canner: Canner, starts_at: datetime, ends_at: datetime, mine: list[Slot]
) -> dict[str, object]:
    wanted = {"canner": canner.pk, "from": starts_at.isoformat(), "to": ends_at.isoformat()}
    try:
        mine.append(
            book_slot(
                kitchen=kitchen,
                member=member,
                canner=canner,
                starts_at=starts_at,
                ends_at=ends_at,
                actor=member,
            )
        )
    except SlotTaken as refusal:
        clashes = [(start.isoformat(), end.isoformat()) for start, end in refusal.clashes]
        return {**wanted, "ended": "taken", "clashes": clashes, "told": refusal.message}
    except KitchenError as error:
        return {**wanted, "ended": "failed", "told": f"{type(error).__name__}: {error.message}"}
    return {**wanted, "ended": "booked"}
