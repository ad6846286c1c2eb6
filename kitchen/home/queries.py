"""What a person's start page asks the database for: of each thing what the page shows, and no more."""

from __future__ import annotations

from datetime import date, datetime

from django.db.models import Count, Exists, OuterRef, QuerySet

from kitchen.calendars.models import Feed, FeedKind
from kitchen.calendars.queries import feeds_of
from kitchen.equipment.models import Burner, CoolingTable
from kitchen.helping.queries import standing_spans
from kitchen.members.models import Kitchen, OpeningHours, User
from kitchen.members.queries import watching_in
from kitchen.planning import queries as planning
from kitchen.planning.models import HarvestDay, Load, LoadPortion
from kitchen.prepared import prepared
from kitchen.records import queries as records
from kitchen.reminders import queries as reminders
from kitchen.reminders.models import Notice, Reminder
from kitchen.rota.models import Attendance
from kitchen.seals import queries as seals

_GIVEN_UP = ("kind", "news", "recipient__display_name", "recipient__email", "portion__load__lot_code")
_HOLD = ("lot_code", "number", "deviation", "canner__uuid", "canner__name", "harvest_day__uuid")
_TO_COUNT = (
    "uuid",
    "jars",
    "batch__jar",
    "batch__food_name",
    "batch__member__display_name",
    "batch__member__email",
    "load__lot_code",
    "load__jars_out_at",
)
_MOST_LISTED = 30
_DAYS_SHOWN = 6
_BOOKED_SHOWN = 7


@prepared
def days_shown(kitchen: Kitchen) -> QuerySet[HarvestDay]:
    """The harvest days, newest first."""
    return planning.days_of(kitchen)[:_DAYS_SHOWN]


@prepared
def booked_shown(kitchen: Kitchen, today: date) -> QuerySet[HarvestDay]:
    """The days with booked canner time, the next first."""
    return planning.booked_days(kitchen, today)[:_BOOKED_SHOWN]


@prepared
def to_count(kitchen: Kitchen) -> QuerySet[LoadPortion]:
    """Everybody's jars whose seals wait to be checked, the longest out first."""
    return _as_counted(seals.to_count(kitchen))


@prepared
def to_count_by(user: User, kitchen: Kitchen) -> QuerySet[LoadPortion]:
    """The same of a person's own jars."""
    return _as_counted(seals.to_count_by(user, kitchen))


@prepared
def on_hold(kitchen: Kitchen) -> QuerySet[Load]:
    """The loads that wait for a lead's decision."""
    return seals.on_hold(kitchen).only(*_HOLD)


@prepared
def given_up(kitchen: Kitchen) -> QuerySet[Reminder]:
    """What could not be delivered."""
    return reminders.given_up(kitchen).only(*_GIVEN_UP)


@prepared
def to_sign(kitchen: Kitchen, user: User, since: datetime, *, booked_only: bool) -> QuerySet[Load]:
    """The loads that came out since then, whose record waits for this person's name."""
    loads = records.loads_to_sign(kitchen, user, since, booked_only=booked_only)
    return loads.only("uuid", "lot_code", "jars_out_at", "canner__name")[:_MOST_LISTED]


def unseen_notices(user: User, kitchen: Kitchen) -> int:
    """How many of a person's notices were not looked at yet."""
    return sum(_unseen(user, kitchen))


def has_clash(user: User, kitchen: Kitchen, now: datetime) -> bool:
    """True when any hours to come that a person gave in this kitchen meet a busy time of theirs."""
    return bool(_clashing(user, kitchen, now))


@prepared
def feeds(user: User, kitchen: Kitchen) -> QuerySet[Feed]:
    """A person's own calendar address, while it stands."""
    own = feeds_of(user, kitchen).filter(kind=FeedKind.MEMBER).select_related(None)
    return own.only("created_at", "last_fetched_at")


def what_is_there(kitchen: Kitchen, on: date) -> tuple[bool, bool, bool, bool]:
    """Whether there are opening hours, burners, cooling tables, and people trained to run a canner on a day."""
    (found,) = _there(kitchen.pk, kitchen, on)
    return found


@prepared
def _there(kitchen_id: int, kitchen: Kitchen, on: date) -> QuerySet[Kitchen, tuple[bool, bool, bool, bool]]:
    asked = (
        OpeningHours.objects.filter(kitchen=kitchen),
        Burner.objects.filter(kitchen=kitchen),
        CoolingTable.objects.filter(kitchen=kitchen),
        watching_in(kitchen, on),
    )
    return Kitchen.objects.filter(pk=kitchen_id).values_list(*(Exists(rows) for rows in asked))


@prepared
def _unseen(user: User, kitchen: Kitchen) -> QuerySet[Notice, int]:
    unseen = reminders.notices_of(user, kitchen).select_related(None).filter(seen_at__isnull=True)
    return unseen.order_by().values("recipient").annotate(many=Count("pk")).values_list("many", flat=True)


@prepared
def _clashing(user: User, kitchen: Kitchen, now: datetime) -> QuerySet[Attendance, int]:
    hours = Attendance.objects.filter(user=user, harvest_day__kitchen=kitchen, ends_at__gt=now)
    busy = standing_spans().filter(
        calendar__membership__user=user, starts_at__lt=OuterRef("ends_at"), ends_at__gt=OuterRef("starts_at")
    )
    return hours.filter(Exists(busy)).values_list("pk", flat=True)[:1]


def _as_counted(portions: QuerySet[LoadPortion]) -> QuerySet[LoadPortion]:
    shown = portions.select_related(None).select_related("batch__member", "load")
    return shown.only(*_TO_COUNT)[:_MOST_LISTED]
