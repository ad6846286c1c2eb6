"""What the demo's people ask of the rota, and the calendar of one of them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from kitchen.demo.fixtures import PersonOf
from kitchen.helping.actions import set_wishes, take_file
from kitchen.helping.models import Station
from kitchen.members.models import Kitchen, User


def say_wishes(
    kitchen: Kitchen, people: tuple[PersonOf, ...], users: Mapping[str, User], folder: Path, now: datetime
) -> None:
    """Each person says it for themselves, by their e-mail addresses; who has nothing to say says nothing.

    Calendars lie in ``folder``.
    """
    memberships = {
        email: user.memberships.select_related("kitchen", "user").get(kitchen=kitchen)
        for email, user in users.items()
    }
    for one in people:
        mine, user = memberships[one.email], users[one.email]
        if one.likes or one.cannot or one.most_hours or one.comes_with or one.learning:
            set_wishes(
                membership=mine,
                likes=frozenset(map(Station, one.likes)),
                cannot=frozenset(map(Station, one.cannot)),
                most_minutes=None if one.most_hours is None else round(one.most_hours * 60),
                comes_with=memberships[one.comes_with] if one.comes_with else None,
                learning=one.learning,
                actor=user,
            )
        if one.calendar:
            data = (folder / one.calendar).read_bytes()
            take_file(membership=mine, name=one.calendar, data=data, actor=user, now=now)
