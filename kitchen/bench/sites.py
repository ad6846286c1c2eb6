"""Made-up kitchens, their people and their canners, as rows.

Rows are written many at once, past the actions: a bench needs them by the hundred thousand. What the database itself
refuses, it refuses here as well.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TypeVar

from django.contrib.auth.hashers import make_password
from django.db.models import Model

from kitchen.equipment.models import Burner, Canner, CannerKind, CoolingTable, Kettle
from kitchen.helping.models import Feeling, Station, StationWish, Wishes
from kitchen.members.models import CannerTraining, Kitchen, Membership, OpeningHours, Role, User

ROWS_AT_ONCE = 1_000
CANNERS = 8
ALTITUDE_FT = 2450

M = TypeVar("M", bound=Model)

_WORDS = ("Tansy", "Sorrel", "Yarrow", "Quince", "Medlar", "Lovage", "Borage", "Damson", "Fennel", "Bramble")
_PLACES = ("Yard", "Lane", "Mill", "Green", "Corner", "Hollow", "Bridge", "Field")


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """A kitchen with everybody and everything in it. ``members`` are neither leads nor operators."""

    kitchen: Kitchen
    leads: Sequence[User]
    operators: Sequence[User]
    members: Sequence[User]
    canners: Sequence[Canner]
    tables: Sequence[CoolingTable]

    @property
    def people(self) -> list[User]:
        """All of them."""
        return [*self.leads, *self.operators, *self.members]

    def at(self, day: date, clock: time) -> datetime:
        """A time of a day in the kitchen's zone."""
        return datetime.combine(day, clock, self.kitchen.zone)


def write(rows: Iterable[M]) -> list[M]:
    """The rows, in the database."""
    listed = list(rows)
    if not listed:
        return []
    manager = type(listed[0])._default_manager
    return list(manager.bulk_create(listed, batch_size=ROWS_AT_ONCE))


def make_site(number: int, members: int, today: date) -> Site:
    """The kitchen of this number, with two leads, two operators and so many members."""
    kitchen = Kitchen.objects.create(
        name=f"{_WORDS[number % len(_WORDS)]} {_PLACES[number // 10 % len(_PLACES)]} kitchen {number}",
        slug=f"kitchen-{number}",
        site_code=f"K{number:03}",
        altitude_ft=ALTITUDE_FT,
        time_zone="America/Denver",
    )
    write(
        OpeningHours(kitchen=kitchen, weekday=weekday, opens=time(7), closes=time(21)) for weekday in range(7)
    )
    people = write(_people(number, members + 4))
    roles = [Role.LEAD] * 2 + [Role.OPERATOR] * 2 + [Role.MEMBER] * members
    memberships = write(
        Membership(kitchen=kitchen, user=user, role=role) for user, role in zip(people, roles, strict=True)
    )
    _train(memberships, today)
    canners, tables = _equip(kitchen)
    return Site(
        kitchen=kitchen,
        leads=people[:2],
        operators=people[2:4],
        members=people[4:],
        canners=canners,
        tables=tables,
    )


def _people(number: int, many: int) -> Iterable[User]:
    nobody_signs_in = make_password(None)
    for one in range(many):
        yield User(
            email=f"person-{number}-{one}@kitchens.example",
            display_name=f"{_WORDS[one % len(_WORDS)]} {_PLACES[one // 10 % len(_PLACES)]}wright {one}",
            password=nobody_signs_in,
        )


def _train(memberships: Sequence[Membership], today: date) -> None:
    """Leads, operators and every fourth member run canners; every third member says where they like to help."""
    trained = [one for number, one in enumerate(memberships) if one.role != Role.MEMBER or number % 4 == 0]
    write(
        CannerTraining(membership=one, trained_on=today - timedelta(days=200), trained_by="Extension office")
        for one in trained
    )
    wishing = memberships[::3]
    write(Wishes(membership=one, most_minutes=480) for one in wishing)
    write(StationWish(membership=one, station=Station.PREP, feeling=Feeling.LIKES) for one in wishing)


def _equip(kitchen: Kitchen) -> tuple[list[Canner], list[CoolingTable]]:
    burners = write(
        Burner(kitchen=kitchen, name=f"Burner {one}", power_w=3500, efficiency=0.5) for one in range(CANNERS)
    )
    canners = write(
        Canner(
            kitchen=kitchen,
            code=f"W{one}",
            name=f"Weighted canner {one}",
            kind=CannerKind.WEIGHTED,
            burner=burner,
            inside_diameter_in=12.5,
            inside_depth_in=10.5,
        )
        for one, burner in enumerate(burners)
    )
    write(Kettle(kitchen=kitchen, name=f"Kettle {one}", volume_qt=24) for one in range(4))
    tables = write(CoolingTable(kitchen=kitchen, name=f"Table {one}", area_sq_in=9000) for one in range(2))
    return canners, tables
