"""Changes to what members ask of a rota, and to the busy times in their calendars."""

from __future__ import annotations

from collections.abc import Callable, Set
from datetime import datetime, time, timedelta
from time import monotonic

from django.db import transaction
from django.utils import timezone

from kitchen.audit.actions import record, snapshot
from kitchen.errors import AlreadyDecided, BadCalendar
from kitchen.helping.apart import read_apart
from kitchen.helping.bridge import OWN_ENTRIES
from kitchen.helping.fetching import checked_address, fetch_calendar
from kitchen.helping.models import BusyCalendar, BusySpan, CalendarKind, Feeling, Station, StationWish, Wishes
from kitchen.helping.queries import due_calendars, wishes_of
from kitchen.helping.reading import Found, Window
from kitchen.helping.rules import check_company, check_learning, check_most_minutes, check_stations
from kitchen.hints import send_hint
from kitchen.http.outward import host_of
from kitchen.members.models import Kitchen, Membership, User
from kitchen.members.rules import Deed, check_may_for

READ_TASK = "kitchen.helping.tasks.read_due"
WINDOW_DAYS = 120
"""How far ahead busy times are known: about a season. Common practice, no source."""
READ_EVERY = timedelta(hours=6)
"""How often an address is read; calendars are written for machines that ask a few times a day."""
TRY_AGAIN = timedelta(hours=1)
NOT_BEFORE = timedelta(minutes=5)
"""So soon after a reading nobody may ask for another: the other end is somebody else's server."""
MOST_IN_A_SWEEP = 10
SWEEP_SECONDS = 45.0
"""When a sweep begins no further reading: the worker that reads calendars also sends the reminders."""
_LONGEST_NAME = 100
_LONGEST_FAILURE = 300


@transaction.atomic
def set_wishes(
    *,
    membership: Membership,
    likes: Set[Station],
    cannot: Set[Station],
    most_minutes: int | None,
    comes_with: Membership | None,
    learning: bool,
    actor: User,
) -> Wishes:
    """Say what a member asks of a rota, in the place of what was said before. A lead may say it for anybody."""
    check_may_for(actor, membership.user, membership.kitchen, Deed.JOIN_ROTA)
    check_stations(likes, cannot)
    check_most_minutes(most_minutes)
    check_company(membership, comes_with)
    check_learning(membership, learning)
    _lock(membership)
    wishes = wishes_of(membership)
    before = _as_said(wishes, membership)
    wishes.most_minutes, wishes.comes_with, wishes.learning = most_minutes, comes_with, learning
    wishes.save()
    membership.station_wishes.all().delete()
    StationWish.objects.bulk_create(
        StationWish(membership=membership, station=station, feeling=feeling)
        for stations, feeling in ((likes, Feeling.LIKES), (cannot, Feeling.CANNOT))
        for station in sorted(stations)
    )
    record(
        actor=actor,
        kitchen=membership.kitchen,
        action="set_wishes",
        subject=membership,
        before=before,
        after=_as_said(wishes, membership),
    )
    return wishes


def take_file(
    *, membership: Membership, name: str, data: bytes, actor: User, now: datetime | None = None
) -> BusyCalendar:
    """Keep the busy times of an uploaded calendar, in the place of those of a file before; not the file itself."""
    check_may_for(actor, membership.user, membership.kitchen, Deed.JOIN_ROTA)
    now = now or timezone.now()
    window = window_from(now, membership.kitchen)
    # Before the transaction: it takes seconds, and others want to write.
    found = read_apart(data, window)
    with transaction.atomic():
        calendar, _ = BusyCalendar.objects.select_for_update(of=("self",)).get_or_create(
            membership=membership, kind=CalendarKind.FILE, defaults={"name": name[:_LONGEST_NAME]}
        )
        calendar.name = name[:_LONGEST_NAME]
        _keep(calendar, found, window, now, actor)
    return calendar


@transaction.atomic
def follow_address(
    *, membership: Membership, address: str, actor: User, now: datetime | None = None
) -> BusyCalendar:
    """Read a calendar's address from now on, in the place of one followed before. What was found there goes."""
    check_may_for(actor, membership.user, membership.kitchen, Deed.JOIN_ROTA)
    asked = checked_address(address)
    _lock(membership)
    membership.busy_calendars.filter(kind=CalendarKind.ADDRESS).delete()
    calendar = BusyCalendar.objects.create(
        membership=membership,
        kind=CalendarKind.ADDRESS,
        name=host_of(asked)[:_LONGEST_NAME],
        address=asked,
        next_read_at=now or timezone.now(),
    )
    # The address may be a secret; the record can never be changed, so only its host stands there.
    record(
        actor=actor,
        kitchen=membership.kitchen,
        action="follow_address",
        subject=calendar,
        after=snapshot(calendar, "membership", "name"),
    )
    transaction.on_commit(lambda: send_hint(READ_TASK))
    return calendar


@transaction.atomic
def read_again(*, calendar: BusyCalendar, actor: User, now: datetime | None = None) -> None:
    """Have an address read at once instead of in its turn."""
    membership = calendar.membership
    check_may_for(actor, membership.user, membership.kitchen, Deed.JOIN_ROTA)
    now = now or timezone.now()
    waiting = BusyCalendar.objects.filter(pk=calendar.pk, kind=CalendarKind.ADDRESS)
    if (calendar.read_at is not None and now < calendar.read_at + NOT_BEFORE) or not waiting.exists():
        raise AlreadyDecided("This calendar was read just now.", remedy="Wait five minutes.")
    waiting.update(next_read_at=now)
    record(
        actor=actor,
        kitchen=membership.kitchen,
        action="read_again",
        subject=calendar,
        after={"next_read_at": now},
    )
    transaction.on_commit(lambda: send_hint(READ_TASK))


@transaction.atomic
def forget_calendar(*, calendar: BusyCalendar, actor: User) -> None:
    """Take a calendar back with all its busy times. Hours that were given stay as they are."""
    membership = calendar.membership
    check_may_for(actor, membership.user, membership.kitchen, Deed.JOIN_ROTA)
    record(
        actor=actor,
        kitchen=membership.kitchen,
        action="forget_calendar",
        subject=calendar,
        before=snapshot(calendar, "membership", "kind", "name"),
    )
    calendar.delete()


def read_due(
    *,
    now: datetime | None = None,
    fetch: Callable[[str], bytes] = fetch_calendar,
    clock: Callable[[], float] = monotonic,
) -> int:
    """Read the addresses whose time has come; how many were read. Safe to run twice, late, or many at once."""
    now = now or timezone.now()
    read, began = 0, clock()
    for calendar in due_calendars(now)[:MOST_IN_A_SWEEP]:
        if clock() - began >= SWEEP_SECONDS:
            break
        # Whoever moves the time first reads it; one that dies meanwhile leaves it to a later sweep.
        taken = BusyCalendar.objects.filter(pk=calendar.pk, next_read_at=calendar.next_read_at)
        if taken.update(next_read_at=now + TRY_AGAIN):
            _read(calendar, now, fetch)
            read += 1
    return read


def window_from(now: datetime, kitchen: Kitchen) -> Window:
    """Whole days of the kitchen's calendar, from today on."""
    today = now.astimezone(kitchen.zone).date()
    return Window(
        starts_at=datetime.combine(today, time(), kitchen.zone),
        ends_at=datetime.combine(today + timedelta(days=WINDOW_DAYS), time(), kitchen.zone),
        zone=kitchen.zone,
        own=OWN_ENTRIES,
    )


def _lock(membership: Membership) -> None:
    """One change of a member at a time: a form that was sent twice must not make two rows."""
    Membership.objects.select_for_update(of=("self",)).get(pk=membership.pk)


def _read(calendar: BusyCalendar, now: datetime, fetch: Callable[[str], bytes]) -> None:
    window = window_from(now, calendar.membership.kitchen)
    try:
        found = read_apart(fetch(calendar.address), window)
    except BadCalendar as refusal:
        BusyCalendar.objects.filter(pk=calendar.pk).update(failure=str(refusal)[:_LONGEST_FAILURE])
        return
    with transaction.atomic():
        # It may have been taken back while it was read.
        standing = BusyCalendar.objects.select_for_update(of=("self",)).filter(pk=calendar.pk).first()
        if standing is not None:
            standing.next_read_at = now + READ_EVERY
            _keep(standing, found, window, now, None)


def _keep(calendar: BusyCalendar, found: Found, window: Window, now: datetime, actor: User | None) -> None:
    """Put what was found in the place of what was known. A sweep that finds the same again leaves no line."""
    known = tuple(calendar.spans.order_by("starts_at").values_list("starts_at", "ends_at"))
    calendar.read_at, calendar.read_until, calendar.failure = now, window.ends_at, ""
    calendar.skipped = found.skipped
    calendar.save()
    coming = tuple(span for span in known if span[1] > window.starts_at)
    if actor is None and coming == found.spans:
        return
    calendar.spans.all().delete()
    BusySpan.objects.bulk_create(
        BusySpan(calendar=calendar, starts_at=starts, ends_at=ends) for starts, ends in found.spans
    )
    record(
        actor=actor,
        kitchen=calendar.membership.kitchen,
        action="read_calendar",
        subject=calendar,
        before={"spans": len(known)},
        after={"name": calendar.name, "spans": len(found.spans), "skipped": found.skipped},
    )


def _as_said(wishes: Wishes, membership: Membership) -> dict[str, object]:
    stations = {one.station: one.feeling for one in membership.station_wishes.all()}
    return {**snapshot(wishes, "most_minutes", "comes_with", "learning"), "stations": stations}
