"""A small kitchen of our own invention, ready to be planned: people of every role, canners of three kinds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import count

from kitchen.batches.actions import declare_batch
from kitchen.batches.models import Batch
from kitchen.equipment.models import Burner, Canner, CannerKind, CoolingTable, Kettle
from kitchen.members.models import CannerTraining, Kitchen, Membership, OpeningHours, Role, User
from kitchen.planning.actions import publish_plan, request_plan
from kitchen.planning.models import HarvestDay, PlanJob
from kitchen.planning.running import run_job
from kitchen.rota.models import Attendance

DAY = date(2026, 9, 12)
"""A Saturday far from any change of the clocks."""

_number = count(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The kitchen with its people and canners. All canners but the steamer have a burner of their own."""

    kitchen: Kitchen
    lead: User
    operator: User
    member: User
    other: User
    weighted: Canner
    dial: Canner
    boiling: Canner
    steamer: Canner

    def at(self, hour: int, minute: int = 0, *, day: date = DAY) -> datetime:
        """A time of the day in the kitchen's zone."""
        return datetime.combine(day, time(hour, minute), self.kitchen.zone)


def make_site() -> Site:
    """A kitchen at 2,450 ft.

    The dial gauge was never checked; the steamer shares the boiling pot's burner.
    """
    number = next(_number)
    kitchen = Kitchen.objects.create(
        name=f"Tansy Yard {number}",
        slug=f"tansy-yard-{number}",
        site_code=f"T{number % 1000:03}",
        altitude_ft=2450,
        time_zone="America/Denver",
    )
    for weekday in range(7):
        OpeningHours.objects.create(kitchen=kitchen, weekday=weekday, opens=time(7), closes=time(21))
    burners = [
        Burner.objects.create(kitchen=kitchen, name=f"Burner {one}", power_w=3500, efficiency=0.5)
        for one in range(3)
    ]
    CoolingTable.objects.create(kitchen=kitchen, name="Long table", area_sq_in=5000)
    for one in (1, 2):
        Kettle.objects.create(kitchen=kitchen, name=f"Kettle {one}", volume_qt=24)
    lead = _person(kitchen, number, "lead", Role.LEAD)
    operator = _person(kitchen, number, "operator", Role.OPERATOR)
    for user in (lead, operator):
        membership = user.memberships.get(kitchen=kitchen)
        CannerTraining.objects.create(
            membership=membership, trained_on=date(2026, 3, 1), trained_by="Extension office"
        )
    return Site(
        kitchen=kitchen,
        lead=lead,
        operator=operator,
        member=_person(kitchen, number, "member", Role.MEMBER),
        other=_person(kitchen, number, "other", Role.MEMBER),
        weighted=_canner(kitchen, "W1", CannerKind.WEIGHTED, burners[0]),
        dial=_canner(kitchen, "P1", CannerKind.DIAL, burners[1]),
        boiling=_canner(kitchen, "B1", CannerKind.BOILING_WATER, burners[2]),
        steamer=_canner(kitchen, "S1", CannerKind.STEAM, burners[2]),
    )


def make_open_day(site: Site, *, day: date = DAY, helpers: bool = True) -> HarvestDay:
    """A harvest day from seven to eight, with everybody there unless ``helpers`` is off."""
    opened = HarvestDay.objects.create(
        kitchen=site.kitchen, date=day, opens_at=site.at(7, day=day), closes_at=site.at(20, day=day)
    )
    if helpers:
        for user in (site.lead, site.operator, site.member, site.other):
            Attendance.objects.create(
                harvest_day=opened, user=user, starts_at=opened.opens_at, ends_at=opened.closes_at
            )
    return opened


def declare(
    site: Site,
    day: HarvestDay,
    *,
    food: str = "snap_beans",
    pack: str = "raw",
    jar: str = "quart",
    jars: int = 7,
    member: User | None = None,
) -> Batch:
    """A batch of so many jars, brought when the day opens and picked up when it closes."""
    member = member or site.member
    return declare_batch(
        kitchen=site.kitchen,
        member=member,
        food=food,
        pack=pack,
        jar=jar,
        amount=Decimal(jars),
        unit="jars",
        arrives_at=day.opens_at,
        picks_up_at=day.closes_at - timedelta(minutes=1),
        harvest_day_id=day.pk,
        actor=member,
    )


def plan(site: Site, day: HarvestDay) -> PlanJob:
    """A finished job for the day, planned in this process; the clock stands still, so only effort ends it."""
    job = request_plan(harvest_day=day, actor=site.lead, seconds_limit=1)
    run_job(job.pk, clock=lambda: 0.0)
    job.refresh_from_db()
    return job


def publish(site: Site, day: HarvestDay) -> HarvestDay:
    """The day planned and published."""
    return publish_plan(job=plan(site, day), actor=site.lead, now=day.opens_at - timedelta(days=1))


def _person(kitchen: Kitchen, number: int, name: str, role: Role) -> User:
    user = User.objects.create_user(f"{name}{number}@yard.example", f"{name.title()} Fenwick")
    Membership.objects.create(kitchen=kitchen, user=user, role=role)
    return user


def _canner(kitchen: Kitchen, code: str, kind: CannerKind, burner: Burner) -> Canner:
    return Canner.objects.create(
        kitchen=kitchen,
        code=code,
        name=f"{kind.label} {code}",
        kind=kind,
        burner=burner,
        inside_diameter_in=12.5,
        inside_depth_in=10.5,
    )
