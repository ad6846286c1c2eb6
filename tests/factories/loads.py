"""A kitchen of our own invention with one load whose jars are out, as rows."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from itertools import count
from zoneinfo import ZoneInfo

from kitchen.batches.models import Batch, BatchState, Jar, Pack, Unit
from kitchen.equipment.models import Burner, Canner, CannerKind, CannerTime, Purpose
from kitchen.members.models import Kitchen, Membership, Role, User
from kitchen.planning.models import DayState, HarvestDay, Load, LoadPhase, LoadPortion, LoadState

_number = count(1)


def make_kitchen(*, time_zone: str = "America/Denver", name: str = "") -> Kitchen:
    """A kitchen at 5,200 ft."""
    number = next(_number)
    return Kitchen.objects.create(
        name=name or f"Mill Lane kitchen {number}",
        slug=f"mill-lane-{number}",
        site_code=f"{number % 1000:03}",
        altitude_ft=5200,
        time_zone=time_zone,
    )


def make_member(kitchen: Kitchen, name: str = "Ines Halloran", role: Role = Role.MEMBER) -> User:
    """A person who belongs to the kitchen."""
    user = User.objects.create_user(f"person{next(_number)}@kitchen.example", name)
    Membership.objects.create(kitchen=kitchen, user=user, role=role)
    return user


def make_canner(kitchen: Kitchen) -> Canner:
    """A weighted-gauge canner on its own burner."""
    number = next(_number)
    burner = Burner.objects.create(kitchen=kitchen, name=f"Burner {number}", power_w=3500, efficiency=0.5)
    return Canner.objects.create(
        kitchen=kitchen,
        code=f"{number % 10000}",
        name=f"Big canner {number}",
        kind=CannerKind.WEIGHTED,
        burner=burner,
        inside_diameter_in=12.25,
        inside_depth_in=14,
    )


def make_day(kitchen: Kitchen, on: date = date(2026, 9, 12)) -> HarvestDay:
    """A published harvest day from eight to six, local time."""
    opens = datetime(on.year, on.month, on.day, 8, tzinfo=ZoneInfo(kitchen.time_zone))
    return HarvestDay.objects.create(
        kitchen=kitchen,
        date=on,
        opens_at=opens,
        closes_at=opens + timedelta(hours=10),
        state=DayState.PUBLISHED,
    )


def make_batch(day: HarvestDay, member: User, *, food_name: str = "Green beans", jars: int = 7) -> Batch:
    """A member's quarts."""
    return Batch.objects.create(
        kitchen=day.kitchen,
        member=member,
        harvest_day=day,
        food_id="beans_snap",
        food_name=food_name,
        pack=Pack.RAW,
        jar=Jar.QUART,
        amount=jars,
        unit=Unit.JARS,
        jars_low=jars,
        jars_high=jars,
        jars=jars,
        arrives_at=day.opens_at,
        picks_up_at=day.closes_at,
        state=BatchState.PLANNED,
    )


def make_load(
    day: HarvestDay,
    *,
    starts_at: datetime | None = None,
    minutes: int = 110,
    process_ended_at: datetime | None = None,
) -> Load:
    """A planned load without jars; canner time and phases stand where it is planned."""
    number = next(_number)
    start = starts_at or day.opens_at + timedelta(hours=1)
    end = start + timedelta(minutes=minutes)
    canner = make_canner(day.kitchen)
    time = CannerTime.objects.create(
        kitchen=day.kitchen, canner=canner, starts_at=start, ends_at=end, purpose=Purpose.LOAD
    )
    load = Load.objects.create(
        harvest_day=day,
        canner=canner,
        canner_time=time,
        number=1,
        lot_code=f"ML-BEA-26-255-{canner.code}-{number}",
        method="pressure",
        pressure_psi=15,
        process_minutes=25,
        state=LoadState.PLANNED,
        process_ended_at=process_ended_at,
    )
    LoadPhase.objects.create(load=load, kind="process", starts_at=start, ends_at=end)
    return load


def add_portion(load: Load, batch: Batch, jars: int = 7) -> LoadPortion:
    """Jars of a batch in a load."""
    return LoadPortion.objects.create(load=load, batch=batch, jars=jars, process_key="test", headspace_in=1)


def load_of_one(*, time_zone: str = "America/Denver", process_ended_at: datetime | None = None) -> Load:
    """A kitchen with one member, one batch of 7 quarts and one load that holds it."""
    day = make_day(make_kitchen(time_zone=time_zone))
    load = make_load(day, process_ended_at=process_ended_at)
    add_portion(load, make_batch(day, make_member(day.kitchen)))
    return load
