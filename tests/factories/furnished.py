"""A kitchen in which there is one of everything that the API names: for walks over all of its operations."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.utils import timezone

from kitchen.api.actions import make_token
from kitchen.api.models import Scope
from kitchen.batches.models import Slot
from kitchen.booking.models import Hold, Waiting
from kitchen.calendars.actions import create_feed
from kitchen.calendars.models import Feed, FeedKind
from kitchen.equipment.models import CannerTime, GaugeCheck, Purpose
from kitchen.floor.models import EventKind
from kitchen.hooks.actions import add_hook
from kitchen.hooks.models import Telling
from kitchen.members.models import User
from kitchen.planning.models import HarvestDay, JobState, Load, LoadPhase, PlanJob
from kitchen.reminders.models import Kind, Notice, Reminder, State
from kitchen.rota.models import Attendance, Shift, Station, SwapOffer
from kitchen.seals.models import ReprocessOffer
from tests.factories.canner_runs import APPLESAUCE, Run, make_beans_out
from tests.factories.sites import Site, declare, make_open_day, make_site


@dataclass(frozen=True, slots=True, kw_only=True)
class Furnished:
    """``run`` is over and its jars are out; ``day`` is to come, with shifts, an offer and a finished plan job.

    ``named`` holds the id of one of each under the name that addresses use.
    """

    site: Site
    run: Run
    day: HarvestDay
    waiting: Load
    slot: Slot
    hold: Hold
    named: dict[str, str]


def bearer(user: User, site: Site, *scopes: Scope) -> dict[str, str]:
    """The header of a new token of this person, that opens everything unless told."""
    made = make_token(user=user, kitchen=site.kitchen, name="Tablet", scopes=scopes or (Scope.EVERYTHING,))
    return {"Authorization": f"Bearer {made.secret}"}


def furnish(site: Site | None = None) -> Furnished:
    """A kitchen with one of everything."""
    site = site or make_site()
    run = make_beans_out(site)
    soon = timezone.now().astimezone(site.kitchen.zone) + timedelta(days=3)
    day = make_open_day(site, day=soon.date())
    brought = declare(site, day)
    waiting = _planned_load(run)
    slot, hold = _slot(site, soon + timedelta(days=2)), _hold(site, soon + timedelta(days=3))
    job = _job(site, day)
    open_shift, mine = _shift(day, None, 1), _shift(day, site.member, 3)
    offer = SwapOffer.objects.create(
        shift=mine, shift_sequence=mine.sequence, offered_by=site.member, to=site.other
    )
    check = GaugeCheck.objects.create(
        canner=site.dial, checked_on=day.date, error_psi=Decimal("0.5"), checked_by="Extension office"
    )
    ReprocessOffer.objects.create(portion=run.portion, jars=1, deadline=timezone.now() + timedelta(hours=5))
    hook = add_hook(kitchen=site.kitchen, address="https://wall.example/jars", actor=site.lead).hook
    named = {
        "kitchen": site.kitchen.uuid,
        "day": day.uuid,
        "batch": brought.uuid,
        "job": job.uuid,
        "load": waiting.uuid,
        "line": run.load.run_events.get(kind=EventKind.LID_OFF).pk,
        "hold": hold.uuid,
        "slot": slot.uuid,
        "portion": run.portion.uuid,
        "shift": open_shift.uuid,
        "offer": offer.uuid,
        "hours": Attendance.objects.get(harvest_day=day, user=site.member).pk,
        "canner": site.dial.uuid,
        "notice": _notice(site).pk,
        "feed": create_feed(user=site.member, kitchen=site.kitchen, kind=FeedKind.MEMBER).feed.pk,
        "member": site.other.uuid,
        "burner": site.dial.burner.uuid,
        "my_shift": mine.uuid,
        "check": check.pk,
        "weekday": 2,
        "hook": hook.uuid,
        "telling": Telling.objects.create(
            hook=hook, created_at=hook.created_at, next_attempt_at=hook.created_at, state=State.FAILED
        ).pk,
        "waiting": Waiting.objects.create(
            kitchen=site.kitchen,
            member=site.member,
            day=day.date,
            asked_at=timezone.now(),
            food_id="snap_beans",
            pack="raw",
            jar="quart",
            jars=7,
            people=1,
        ).uuid,
    }
    return Furnished(
        site=site,
        run=run,
        day=day,
        waiting=waiting,
        slot=slot,
        hold=hold,
        named={name: str(value) for name, value in named.items()},
    )


def feeds(site: Site) -> int:
    """How many calendar addresses the kitchen's people have."""
    return Feed.objects.filter(kitchen=site.kitchen).count()


def _planned_load(run: Run) -> Load:
    """Nine pints of applesauce in the boiling-water canner on the day of the run, not begun."""
    site, start = run.site, run.site.at(13)
    end = start + timedelta(minutes=sum(APPLESAUCE.values()))
    load = Load.objects.create(
        harvest_day=run.day,
        canner=site.boiling,
        number=1,
        lot_code=f"{site.kitchen.site_code}-APP-26255-B1-1",
        canner_time=CannerTime.objects.create(
            kitchen=site.kitchen, canner=site.boiling, starts_at=start, ends_at=end, purpose=Purpose.LOAD
        ),
        method="boiling_water",
        process_minutes=APPLESAUCE["process"],
    )
    for kind, minutes in APPLESAUCE.items():
        LoadPhase.objects.create(
            load=load, kind=kind, starts_at=start, ends_at=start + timedelta(minutes=minutes)
        )
        start += timedelta(minutes=minutes)
    return load


def _time(site: Site, on: datetime, **more: object) -> CannerTime:
    start = on.replace(hour=10, minute=0, second=0, microsecond=0)
    end = start + timedelta(hours=2)
    return CannerTime.objects.create(
        kitchen=site.kitchen, canner=site.weighted, starts_at=start, ends_at=end, purpose=Purpose.SLOT, **more
    )


def _slot(site: Site, on: datetime) -> Slot:
    return Slot.objects.create(kitchen=site.kitchen, member=site.member, canner_time=_time(site, on))


def _hold(site: Site, on: datetime) -> Hold:
    time = _time(site, on, held_until=timezone.now() + timedelta(minutes=10))
    return Hold.objects.create(
        kitchen=site.kitchen,
        member=site.member,
        canner_time=time,
        food_id="snap_beans",
        pack="raw",
        jar="quart",
        jars=7,
        people=1,
        arrives_at=time.starts_at - timedelta(hours=1),
        comes_at=time.starts_at - timedelta(hours=1),
    )


def _job(site: Site, day: HarvestDay) -> PlanJob:
    """A job that found a plan, of which only the outside matters here."""
    now = timezone.now()
    return PlanJob.objects.create(
        harvest_day=day,
        state=JobState.FINISHED,
        day={"kitchen": site.kitchen.name},
        plan={"loads": []},
        input_hash="0" * 64,
        day_version=day.version + 1,  # So it is out of date, and cannot be published.
        requested_by=site.lead,
        finished_at=now,
    )


def _shift(day: HarvestDay, user: User | None, hours: int) -> Shift:
    start = day.opens_at + timedelta(hours=hours)
    return Shift.objects.create(
        harvest_day=day,
        user=user,
        station=Station.PREP,
        starts_at=start,
        ends_at=start + timedelta(hours=1),
        asked_for=user is None,
    )


def _notice(site: Site) -> Notice:
    now = timezone.now()
    reminder = Reminder.objects.create(
        kitchen=site.kitchen,
        recipient=site.member,
        kind=Kind.ROTA,
        news={"title": "A shift is open", "lines": ["Somebody is wanted."], "path": "/"},
        due_at=now,
        next_attempt_at=now,
    )
    return Notice.objects.create(reminder=reminder, recipient=site.member, created_at=now)
