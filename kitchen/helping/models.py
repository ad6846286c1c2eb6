"""What members say of themselves: where they like to help, how long, with whom, and when they are busy."""

from __future__ import annotations

from uuid import uuid4

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from kitchen.http.outward import LONGEST_ADDRESS
from kitchen.members.models import Membership

# A day's work from half an hour to the longest shift that any kitchen may set: guards against slips of typing.
LEAST_DAY_MINUTES = 30
MOST_DAY_MINUTES = 960


class Station(models.TextChoices):
    """Where hands are needed, in the planner's spelling."""

    PREP = "prep", "Prep"
    KETTLE = "kettle", "Kettle"
    FILL = "fill", "Fill"
    CANNER = "canner", "Canner"
    COOLING = "cooling", "Cooling and labels"


class Feeling(models.TextChoices):
    """How a member feels about a station; nothing is said of a station where they help as needed."""

    LIKES = "likes", "gladly"
    CANNOT = "cannot", "not at all"


class Wishes(models.Model):
    """What a member asks of a rota. ``most_minutes`` is for one day; None leaves it open.

    Whoever ``comes_with`` another comes and goes with that person. ``learning`` means learning to run a canner,
    beside a trained person.
    """

    membership = models.OneToOneField(Membership, on_delete=models.CASCADE, related_name="wishes")
    most_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    comes_with = models.ForeignKey(
        Membership, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    learning = models.BooleanField(default=False)

    class Meta:
        verbose_name_plural = "wishes"
        constraints = (
            models.CheckConstraint(
                condition=Q(most_minutes__isnull=True)
                | Q(most_minutes__range=(LEAST_DAY_MINUTES, MOST_DAY_MINUTES)),
                name="wishes_most_minutes",
            ),
            models.CheckConstraint(
                condition=Q(comes_with__isnull=True) | ~Q(comes_with=F("membership")),
                name="wishes_come_with_another",
            ),
        )

    def __str__(self) -> str:
        return f"Wishes of {self.membership.user}"


class StationWish(models.Model):
    """That a member likes a station, or cannot work there; never both."""

    membership = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="station_wishes")
    station = models.CharField(max_length=10, choices=Station)
    feeling = models.CharField(max_length=10, choices=Feeling)

    class Meta:
        ordering = ("membership_id", "station")
        constraints = (
            models.UniqueConstraint(fields=("membership", "station"), name="station_wish_once"),
            models.CheckConstraint(condition=Q(station__in=Station.values), name="station_wish_station"),
            models.CheckConstraint(condition=Q(feeling__in=Feeling.values), name="station_wish_feeling"),
        )

    def __str__(self) -> str:
        return f"{self.get_station_display()}: {self.get_feeling_display()}"


class CalendarKind(models.TextChoices):
    """How a calendar came here."""

    FILE = "file", "A file that was uploaded"
    ADDRESS = "address", "An address that is read again and again"


class BusyCalendar(models.Model):
    """A member's calendar, of which only the busy times are kept: no titles, no places.

    ``name`` is the file's name or the address's host. The ``address`` may be a secret and is never shown again.
    ``read_until`` is the end of the window that was looked at; ``skipped`` counts entries that could not be
    understood. ``next_read_at`` is when an address is due; ``failure`` says why it could not be read.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    membership = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="busy_calendars")
    kind = models.CharField(max_length=10, choices=CalendarKind)
    name = models.CharField(max_length=100)
    address = models.CharField(max_length=LONGEST_ADDRESS, blank=True)
    added_at = models.DateTimeField(default=timezone.now)
    read_at = models.DateTimeField(null=True, blank=True)
    read_until = models.DateTimeField(null=True, blank=True)
    skipped = models.PositiveIntegerField(default=0)
    next_read_at = models.DateTimeField(null=True, blank=True)
    failure = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("membership_id", "kind")
        constraints = (
            models.UniqueConstraint(fields=("membership", "kind"), name="busy_calendar_once"),
            models.CheckConstraint(
                condition=Q(kind="file", address="", next_read_at__isnull=True)
                | (Q(kind="address", next_read_at__isnull=False) & ~Q(address="")),
                name="busy_calendar_file_or_address",
            ),
        )
        indexes = (models.Index(fields=("next_read_at",), name="busy_calendar_due"),)

    def __str__(self) -> str:
        return f"{self.name}, {self.membership.user}"


class BusySpan(models.Model):
    """A time in which a member is busy, in whole minutes. The spans of one calendar never touch."""

    calendar = models.ForeignKey(BusyCalendar, on_delete=models.CASCADE, related_name="spans")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        ordering = ("starts_at", "id")
        constraints = (
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="busy_span_ends_after_start"
            ),
            models.UniqueConstraint(fields=("calendar", "starts_at"), name="busy_span_once"),
        )

    def __str__(self) -> str:
        return f"{self.starts_at:%Y-%m-%d %H:%M} to {self.ends_at:%H:%M} UTC"
