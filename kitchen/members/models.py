"""Kitchens, people and what each may do."""

from __future__ import annotations

from datetime import date
from typing import ClassVar
from uuid import uuid4
from zoneinfo import ZoneInfo

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.core.validators import RegexValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.functional import cached_property

from kitchen.language.person import Units

# The published altitude bands begin at sea level and the dial gauge tables end at 8,000 ft. USDA AIB 539,
# process tables.
MOST_ALTITUDE_FT = 8000
# Home-canned food is best used within a year: Univ. of California Master Food Preservers, Canning; USDA Yearbook
# (1977), Canning, Freezing, Storing Garden Produce. A kitchen may set less, never more.
MOST_BEST_BY_MONTHS = 12


class UserManager(BaseUserManager["User"]):
    """Makes users; the e-mail address is kept in lower case, so one mailbox is one person."""

    def create_user(self, email: str, display_name: str, password: str | None = None) -> User:
        """A user who may sign in. Without a password only other ways of signing in work."""
        user = self.model(email=self.normalize_email(email).lower(), display_name=display_name)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, display_name: str, password: str | None = None) -> User:
        """A user who may do everything in the admin pages."""
        user = self.create_user(email, display_name, password)
        user.is_staff = True
        user.is_superuser = True
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, username: str | None) -> User:
        """The user with this e-mail address, in whatever case it was typed."""
        return self.get(email=(username or "").lower())


class Language(models.TextChoices):
    """The languages of pages and messages, each by its own name."""

    ENGLISH = "en", "English"
    SPANISH = "es", "Español"


class UnitsChoice(models.TextChoices):
    """The units in which lengths, weights, pressures and temperatures are shown."""

    US = Units.US.value, "US: inches, pounds, quarts, °F"
    METRIC = Units.METRIC.value, "Metric: centimetres, kilograms, litres, °C"


class User(AbstractBaseUser, PermissionsMixin):
    """A person, known by an e-mail address. What they may do is said by their memberships.

    ``language`` and ``units`` are empty until they choose: pages then follow the browser, messages are in English,
    and units are those in which the guides are printed.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    email = models.EmailField(unique=True)
    display_name = models.CharField(max_length=80)
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField(default=False)
    date_joined = models.DateTimeField(default=timezone.now)
    language = models.CharField(max_length=5, choices=Language, blank=True, default="")
    units = models.CharField(max_length=6, choices=UnitsChoice, blank=True, default="")

    objects: ClassVar[UserManager] = UserManager()

    EMAIL_FIELD = "email"
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["display_name"]

    class Meta:
        ordering = ("display_name", "id")
        constraints = (
            models.CheckConstraint(condition=Q(email=Lower("email")), name="user_email_lower_case"),
            models.CheckConstraint(condition=Q(language__in=("", *Language.values)), name="user_language"),
            models.CheckConstraint(condition=Q(units__in=("", *UnitsChoice.values)), name="user_units"),
        )

    def __str__(self) -> str:
        return self.display_name or self.email

    @cached_property
    def known_memberships(self) -> dict[int, Membership]:
        """Standing memberships that a page looked up which only reads, by kitchen; empty where things are written."""
        return {}

    def clean(self) -> None:
        """Put the e-mail address into lower case before it is checked."""
        super().clean()
        self.email = self.email.lower()

    def get_full_name(self) -> str:
        """The name shown on rotas and run sheets."""
        return str(self)

    def get_short_name(self) -> str:
        """The first word of the name."""
        return str(self).split()[0]


class Kitchen(models.Model):
    """One site: where it is, how high, and what it has decided for itself.

    The policy fields carry safe defaults and are limited by the database; none of them lowers a published
    figure. Nobody works longer than ``break_every_minutes`` without ``break_minutes`` of rest, nor than
    ``meal_after_minutes`` without ``meal_minutes``; ``rest_minutes`` lie between two days; from one station to
    another takes ``walking_minutes``: common practice, no source. ``plan_by_records`` lets recorded times
    correct what is expected, ``kept_percent`` says how many of a hundred loads shall keep a time learned so.
    ``best_by_months`` after it was processed a jar is past its best.

    A time that a member chose is held for ``hold_minutes`` while they confirm; so many come at most, the member
    counted, as ``most_in_group`` says; ``jar_fee`` is printed as it stands, and nothing is reckoned with it.
    """

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    name = models.CharField(max_length=80, unique=True)
    slug = models.SlugField(unique=True)
    site_code = models.CharField(
        max_length=4,
        unique=True,
        validators=[RegexValidator(r"^[A-Z0-9]{2,4}$", "Two to four capitals or digits.")],
    )
    altitude_ft = models.PositiveIntegerField()
    time_zone = models.CharField(max_length=40)

    canners_per_person = models.PositiveSmallIntegerField(default=2)
    fill_wait_limit_minutes = models.PositiveSmallIntegerField(default=20)
    cool_down_minutes = models.PositiveSmallIntegerField(default=40)
    share_under_longest = models.BooleanField(default=False)
    cleaning_minutes = models.PositiveSmallIntegerField(default=15)
    cooling_hold_hours = models.PositiveSmallIntegerField(default=24)
    meat_cut_off = models.TimeField(null=True, blank=True)
    loading_minutes = models.PositiveSmallIntegerField(default=5)
    unloading_minutes = models.PositiveSmallIntegerField(default=5)
    prep_hands = models.PositiveSmallIntegerField(default=2)
    fill_hands = models.PositiveSmallIntegerField(default=2)
    break_minutes = models.PositiveSmallIntegerField(default=15)
    break_every_minutes = models.PositiveSmallIntegerField(default=180)
    meal_minutes = models.PositiveSmallIntegerField(default=30)
    meal_after_minutes = models.PositiveSmallIntegerField(default=300)
    longest_shift_minutes = models.PositiveSmallIntegerField(default=720)
    rest_minutes = models.PositiveSmallIntegerField(default=600)
    walking_minutes = models.PositiveSmallIntegerField(default=0)
    plan_by_records = models.BooleanField(default=True)
    kept_percent = models.PositiveSmallIntegerField(default=80)
    hold_minutes = models.PositiveSmallIntegerField(default=10)
    most_in_group = models.PositiveSmallIntegerField(default=4)
    under_16_may_book = models.BooleanField(default=False)
    jar_fee = models.CharField(max_length=80, blank=True)
    best_by_months = models.PositiveSmallIntegerField(default=MOST_BEST_BY_MONTHS)

    class Meta:
        ordering = ("name",)
        constraints = (
            models.CheckConstraint(
                condition=Q(altitude_ft__lte=MOST_ALTITUDE_FT), name="kitchen_altitude_within_the_tables"
            ),
            models.CheckConstraint(
                condition=Q(canners_per_person__range=(1, 6)), name="kitchen_canners_per_person"
            ),
            models.CheckConstraint(
                condition=Q(fill_wait_limit_minutes__range=(1, 60)), name="kitchen_fill_wait_limit"
            ),
            # Rule S5: the kitchen's own cool-down is never below 20 minutes.
            models.CheckConstraint(condition=Q(cool_down_minutes__range=(20, 240)), name="kitchen_cool_down"),
            models.CheckConstraint(condition=Q(cleaning_minutes__range=(1, 240)), name="kitchen_cleaning"),
            # Rule S12: jars stand 12 to 24 hours.
            models.CheckConstraint(
                condition=Q(cooling_hold_hours__range=(12, 24)), name="kitchen_cooling_hold"
            ),
            models.CheckConstraint(condition=Q(loading_minutes__range=(1, 60)), name="kitchen_loading"),
            models.CheckConstraint(condition=Q(unloading_minutes__range=(1, 60)), name="kitchen_unloading"),
            models.CheckConstraint(condition=Q(prep_hands__range=(1, 12)), name="kitchen_prep_hands"),
            models.CheckConstraint(condition=Q(fill_hands__range=(1, 6)), name="kitchen_fill_hands"),
            models.CheckConstraint(condition=Q(break_minutes__range=(5, 60)), name="kitchen_break"),
            models.CheckConstraint(
                condition=Q(break_every_minutes__range=(60, 360)), name="kitchen_break_every"
            ),
            models.CheckConstraint(condition=Q(meal_minutes__range=(10, 120)), name="kitchen_meal"),
            models.CheckConstraint(
                condition=Q(meal_after_minutes__range=(120, 480)), name="kitchen_meal_after"
            ),
            models.CheckConstraint(
                condition=Q(longest_shift_minutes__range=(120, 960)), name="kitchen_longest_shift"
            ),
            models.CheckConstraint(condition=Q(rest_minutes__range=(480, 1440)), name="kitchen_rest"),
            models.CheckConstraint(condition=Q(walking_minutes__range=(0, 15)), name="kitchen_walking"),
            models.CheckConstraint(condition=Q(kept_percent__range=(50, 95)), name="kitchen_kept_percent"),
            models.CheckConstraint(condition=Q(hold_minutes__range=(2, 60)), name="kitchen_hold_minutes"),
            models.CheckConstraint(condition=Q(most_in_group__range=(1, 12)), name="kitchen_most_in_group"),
            models.CheckConstraint(
                condition=Q(best_by_months__range=(1, MOST_BEST_BY_MONTHS)), name="kitchen_best_by_months"
            ),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        """The kitchen's time zone, for showing times to people."""
        return ZoneInfo(self.time_zone)


class OpeningHours(models.Model):
    """When the kitchen is usually open, by weekday. Monday is 0."""

    kitchen = models.ForeignKey(Kitchen, on_delete=models.CASCADE, related_name="opening_hours")
    weekday = models.PositiveSmallIntegerField()
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        ordering = ("kitchen_id", "weekday", "opens")
        verbose_name_plural = "opening hours"
        constraints = (
            models.CheckConstraint(condition=Q(weekday__range=(0, 6)), name="opening_hours_weekday"),
            models.CheckConstraint(
                condition=Q(closes__gt=F("opens")), name="opening_hours_close_after_opening"
            ),
            models.UniqueConstraint(fields=("kitchen", "weekday", "opens"), name="opening_hours_once"),
        )

    def __str__(self) -> str:
        return f"{self.kitchen} {self.weekday} {self.opens:%H:%M} to {self.closes:%H:%M}"


class Role(models.TextChoices):
    """What a membership allows: a lead may do all that an operator may, an operator all that a member may."""

    LEAD = "lead", "Lead"
    OPERATOR = "operator", "Canner operator"
    MEMBER = "member", "Member"


class Membership(models.Model):
    """A person in a kitchen. Leaving sets ``left_at``; the row stays, because records point at it."""

    uuid = models.UUIDField(default=uuid4, unique=True, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="memberships")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=10, choices=Role, default=Role.MEMBER)
    under_16 = models.BooleanField(default=False)
    joined_at = models.DateTimeField(default=timezone.now)
    left_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("kitchen_id", "user__display_name")
        constraints = (
            models.UniqueConstraint(fields=("kitchen", "user"), name="membership_once"),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="membership_role"),
        )

    def __str__(self) -> str:
        return f"{self.user}, {self.get_role_display()} of {self.kitchen}"


class _Training(models.Model):
    """That a member was trained, by whom and when, and until when that counts."""

    trained_on = models.DateField()
    expires_on = models.DateField(null=True, blank=True)
    trained_by = models.CharField(max_length=80)

    class Meta:
        abstract = True

    def holds_on(self, day: date) -> bool:
        """True when the training counts on this day."""
        return self.trained_on <= day and (self.expires_on is None or day <= self.expires_on)


class CannerTraining(_Training):
    """That a member was trained to run a canner (rule S9), and until when that counts."""

    membership = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="trainings")

    class Meta:
        ordering = ("membership_id", "-trained_on")
        constraints = (
            models.CheckConstraint(
                condition=Q(expires_on__isnull=True) | Q(expires_on__gt=F("trained_on")),
                name="training_expires_later",
            ),
        )

    def __str__(self) -> str:
        return f"{self.membership.user}, trained on {self.trained_on}"


class FoodTraining(_Training):
    """That a member was taught to handle food. A table of its own, so that it never counts for a canner."""

    membership = models.ForeignKey(Membership, on_delete=models.PROTECT, related_name="food_trainings")

    class Meta:
        ordering = ("membership_id", "-trained_on")
        constraints = (
            models.CheckConstraint(
                condition=Q(expires_on__isnull=True) | Q(expires_on__gt=F("trained_on")),
                name="food_training_expires_later",
            ),
        )

    def __str__(self) -> str:
        return f"{self.membership.user}, food handling on {self.trained_on}"


class ConfirmedProcess(models.Model):
    """Rule S1: a lead checked a row of confidence B against the current publication, which is named."""

    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="confirmed_processes")
    process_key = models.CharField(max_length=120)
    publication = models.CharField(max_length=200)
    confirmed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ("kitchen_id", "process_key")
        verbose_name_plural = "confirmed processes"
        constraints = (
            models.UniqueConstraint(fields=("kitchen", "process_key"), name="confirmed_process_once"),
        )

    def __str__(self) -> str:
        return f"{self.process_key} by {self.publication}"
