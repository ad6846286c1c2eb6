"""Filling an empty database with the demo kitchen, through the same actions that people use."""

from __future__ import annotations

import time as clock
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path

from django.conf import settings
from django.db import transaction

from kitchen.batches.actions import declare_batch
from kitchen.batches.models import Batch
from kitchen.booking.actions import ChosenTime, book_hold, hold_time
from kitchen.booking.bridge import Wanted, offers_on
from kitchen.demo.fixtures import (
    BatchOf,
    DayFile,
    KitchenFile,
    PersonOf,
    read_harvest_day,
    read_kitchen,
    read_past_day,
)
from kitchen.demo.helping import say_wishes
from kitchen.demo.past import run_past_day
from kitchen.equipment.actions import (
    add_burner,
    add_canner,
    add_cooling_table,
    add_kettle,
    record_gauge_check,
)
from kitchen.errors import BadHarvestDay
from kitchen.members.actions import add_member, change_policy, create_kitchen, set_opening_hours
from kitchen.members.models import Kitchen, Role, User
from kitchen.members.signing_in import set_password
from kitchen.members.trainings import record_training
from kitchen.planning.actions import open_harvest_day, publish_plan, request_plan
from kitchen.planning.jobs import fail_job
from kitchen.planning.models import DayState, HarvestDay, PlanJob
from kitchen.planning.queries import next_day, open_job
from kitchen.planning.running import run_job
from kitchen.rota.actions import attend

_SATURDAY = 5
_TRAINING_LASTS = timedelta(days=730)
# Effort enough for a good plan in the few seconds that a first start may take.
PLAN_SECONDS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Demo:
    """The demo kitchen, and the addresses and the password to sign in with. ``fresh`` when just loaded."""

    kitchen: Kitchen
    emails: tuple[str, ...]
    password: str
    fresh: bool


def demo_folder() -> Path:
    """Where the demo's files lie."""
    return Path(settings.BASE_DIR) / "fixtures" / "demo"


def next_saturday(today: date) -> date:
    """The first Saturday after today."""
    return today + timedelta(days=(_SATURDAY - today.weekday() - 1) % 7 + 1)


@transaction.atomic
def load_demo(*, now: datetime, day: date | None = None) -> Demo:
    """The demo kitchen with a harvest day to come and one that is over; loaded once, then left alone.

    ``day`` is the harvest day, the next Saturday unless given; ``now`` is when it is loaded.
    """
    content = read_kitchen(demo_folder())
    emails = tuple(person.email for person in content.person)
    site = content.kitchen
    known = Kitchen.objects.filter(slug=site.slug).first()
    if known is not None:
        return Demo(kitchen=known, emails=emails, password=site.password, fresh=False)
    loader = _Loader(content, day or next_saturday(now.date()), now)
    return Demo(kitchen=loader.load(), emails=emails, password=site.password, fresh=True)


def plan_demo(*, kitchen: Kitchen, today: date, seconds: int = PLAN_SECONDS) -> HarvestDay | None:
    """Plan and publish the kitchen's next harvest day in this process, unless that was done; None without a
    day.
    """
    day = next_day(kitchen, today)
    if day is None or day.state != DayState.DRAFT:
        return day
    left = open_job(day)
    if left is not None:
        fail_job(job_id=left.pk, failure="The kitchen was stopped meanwhile.")
    job = request_plan(harvest_day=day, actor=None, seconds_limit=seconds)
    return publish_plan(job=_run(job), actor=None)


def _run(job: PlanJob) -> PlanJob:
    run_job(job.pk, clock=clock.monotonic)
    job.refresh_from_db()
    if job.plan is None:
        raise BadHarvestDay("The demo's day could not be planned.", remedy=job.failure)
    return job


class _Loader:
    """Builds the demo step by step; the lead is the first person of the file and does it all."""

    def __init__(self, content: KitchenFile, day: date, now: datetime) -> None:
        self._content = content
        self._day = day
        self._now = now
        self._users: dict[str, User] = {}

    def load(self) -> Kitchen:
        site = self._content.kitchen
        first = self._content.person[0]
        self._lead = User.objects.create_user(first.email, first.name)
        self._users[first.email] = self._lead
        self._kitchen = create_kitchen(
            name=site.name,
            slug=site.slug,
            site_code=site.site_code,
            altitude_ft=site.altitude_ft,
            time_zone=site.time_zone,
            lead=self._lead,
        )
        self._decide()
        for person in self._content.person:
            self._person(person)
        say_wishes(self._kitchen, self._content.person, self._users, demo_folder(), self._now)
        self._equip()
        self._past_day()
        self._open_day(read_harvest_day(demo_folder()), self._day)
        self._slots()
        return self._kitchen

    def _decide(self) -> None:
        policy = self._content.policy
        changes: dict[str, object] = {
            "cool_down_minutes": policy.cool_down_minutes,
            "meat_cut_off": policy.meat_cut_off,
        }
        change_policy(kitchen=self._kitchen, changes=changes, actor=self._lead)
        for one in self._content.opening:
            for weekday in one.weekdays:
                set_opening_hours(
                    kitchen=self._kitchen,
                    weekday=weekday,
                    hours=[(one.opens, one.closes)],
                    actor=self._lead,
                )

    def _person(self, person: PersonOf) -> None:
        if person.email not in self._users:
            self._users[person.email] = add_member(
                kitchen=self._kitchen,
                email=person.email,
                display_name=person.name,
                role=Role(person.role),
                under_16=person.under_16,
                actor=self._lead,
            ).user
        user = self._users[person.email]
        set_password(user=user, password=self._content.kitchen.password, actor=None)
        if person.trained is not None:
            trained_on = self._date(person.trained)
            record_training(
                membership=user.memberships.get(kitchen=self._kitchen),
                trained_on=trained_on,
                expires_on=trained_on + _TRAINING_LASTS,
                trained_by="County extension office",
                actor=self._lead,
            )

    def _equip(self) -> None:
        kitchen, lead = self._kitchen, self._lead
        burners = {
            one.name: add_burner(
                kitchen=kitchen, name=one.name, power_w=one.power_w, efficiency=one.efficiency, actor=lead
            )
            for one in self._content.burner
        }
        for one in self._content.canner:
            canner = add_canner(
                kitchen=kitchen,
                burner=burners[one.burner],
                actor=lead,
                code=one.code,
                name=one.name,
                kind=one.kind,
                inside_diameter_in=one.inside_diameter_in,
                inside_depth_in=one.inside_depth_in,
                layers=one.layers,
                heavy_walled=one.heavy_walled,
                own_counts=one.own_counts,
            )
            if one.gauge_check is not None:
                record_gauge_check(
                    canner=canner,
                    checked_on=self._date(one.gauge_check.day),
                    error_psi=one.gauge_check.error_psi,
                    checked_by=one.gauge_check.by,
                    actor=lead,
                    now=self._now,
                )
        for kettle in self._content.kettle:
            add_kettle(kitchen=kitchen, name=kettle.name, volume_qt=kettle.volume_qt, actor=lead)
        for table in self._content.table:
            add_cooling_table(kitchen=kitchen, name=table.name, area_sq_in=table.area_sq_in, actor=lead)

    def _open_day(self, content: DayFile, on: date) -> tuple[HarvestDay, list[tuple[BatchOf, Batch]]]:
        day = open_harvest_day(
            kitchen=self._kitchen,
            day=on,
            opens_at=self._at(on, content.opens),
            closes_at=self._at(on, content.closes),
            actor=self._lead,
        )
        for email, hours in content.hours.items():
            for starts, ends in hours:
                attend(
                    harvest_day=day,
                    user=self._users[email],
                    starts_at=self._at(on, starts),
                    ends_at=self._at(on, ends),
                    actor=self._users[email],
                )
        return day, [(one, self._batch(one, day)) for one in content.batch]

    def _batch(self, one: BatchOf, day: HarvestDay) -> Batch:
        member = self._users[one.member]
        return declare_batch(
            kitchen=self._kitchen,
            member=member,
            food=one.food,
            pack=one.pack,
            jar=one.jar,
            amount=one.amount,
            unit=one.unit,
            arrives_at=self._at(day.date, one.arrives),
            picks_up_at=self._at(day.date, one.picks_up),
            harvest_day_id=day.pk,
            actor=member,
        )

    def _past_day(self) -> None:
        content = read_past_day(demo_folder())
        day, batches = self._open_day(content, self._date(-content.days_before))
        job = _run(request_plan(harvest_day=day, actor=self._lead, seconds_limit=1, now=day.opens_at))
        publish_plan(job=job, actor=self._lead, now=day.opens_at)
        operator = self._users[self._content.person[1].email]
        run_past_day(day=day, batches=batches, operator=operator, lead=self._lead)

    def _slots(self) -> None:
        """Each takes the last time of its day that fits, as somebody does who comes after work."""
        for one in self._content.slot:
            on, member = self._date(one.day), self._users[one.member]
            wanted = Wanted(food_id=one.food, pack=one.pack, jar=one.jar, jars=one.jars)
            times = offers_on(self._kitchen, member, wanted, on, self._now)
            if not times:
                raise BadHarvestDay(
                    f"No time fits {one.member} on {on}.", remedy="Change the slot in the demo's file."
                )
            last = times[-1]
            chosen = ChosenTime(
                canner=last.canner,
                arrives_at=last.arrives_at,
                starts_at=last.starts_at,
                ends_at=last.ends_at,
            )
            held = hold_time(
                kitchen=self._kitchen,
                member=member,
                wanted=wanted,
                chosen=chosen,
                actor=member,
                now=self._now,
            )
            book_hold(hold=held, actor=member, now=self._now)

    def _date(self, days: int) -> date:
        return self._day + timedelta(days=days)

    def _at(self, on: date, at: time) -> datetime:
        return datetime.combine(on, at, self._kitchen.zone)
