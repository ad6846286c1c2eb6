"""The queue of due reminders, the notices on members' pages, and the sweeps that looked after both."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from kitchen.members.models import Kitchen
from kitchen.planning.models import LoadPortion


class Kind(models.TextChoices):
    """What a reminder is about: the seals of jars (rule S11), other matters of safety, or work and news."""

    FIRST_CALL = "first_call", "First call: the seals may be tested"
    SEAL_CHECK = "seal_check", "Seal check: the seals must be tested now"
    REPROCESS = "reprocess", "Reprocess deadline: jars that did not seal"
    GAUGE = "gauge", "Gauge check: a dial gauge is due"
    SAFETY = "safety", "Safety: what was found about jars or a canner"
    ROTA = "rota", "Rota: a shift has changed"
    SHIFT = "shift", "Your shifts tomorrow"
    SHELF = "shelf", "Shelf: jars to use first"
    DIGEST = "digest", "The day's messages in one"


OF_JARS = (Kind.FIRST_CALL, Kind.SEAL_CHECK, Kind.REPROCESS)
"""What stands for a portion whose jars are out."""


class Channel(models.TextChoices):
    """The way out of the kitchen. The notice on the member's own page is written whatever the channel."""

    EMAIL = "email", "E-mail"


class State(models.TextChoices):
    """How far a reminder has come."""

    DUE = "due", "Due"
    SENDING = "sending", "Being sent"
    DONE = "done", "Sent"
    CANCELLED = "cancelled", "Cancelled"
    FAILED = "failed", "Given up"


def sending(name: str) -> tuple[models.CheckConstraint, ...]:
    """What holds of every row that is sent: claimed while it is being sent and only then."""
    return (
        models.CheckConstraint(condition=Q(state__in=State.values), name=f"{name}_state"),
        models.CheckConstraint(
            condition=Q(state=State.SENDING, claim_token__isnull=False, lease_until__isnull=False)
            | ~Q(state=State.SENDING) & Q(claim_token__isnull=True, lease_until__isnull=True),
            name=f"{name}_claimed_while_sending",
        ),
        models.CheckConstraint(
            condition=Q(state=State.DONE, done_at__isnull=False)
            | ~Q(state=State.DONE) & Q(done_at__isnull=True),
            name=f"{name}_done_when",
        ),
    )


class Reminder(models.Model):
    """One message to one person, waiting for its time. This row is the only thing that must not be lost.

    A reminder to check seals stands for a portion, the jars of one batch in one load: a batch may be split over loads
    whose jars come out hours apart, and each load has its own 12 and 24 hours. ``next_attempt_at`` begins as ``due_at``
    and moves on when mail fails; ``due_at`` itself only moves with the time the jars came out.
    ``claim_token`` names the sweep that is sending, until ``lease_until``. ``reprocess_by`` is 24 hours after
    the end of the first process, None when that end was never recorded.

    What is of no jars belongs to no portion; ``news`` holds its title, its lines and the path of the page that it leads
    to. ``about`` names what it stands for where the same must not be said twice to one person. ``went_with`` is the
    digest that it went out in together with others.
    """

    id = models.UUIDField(primary_key=True, default=uuid4, editable=False)
    kitchen = models.ForeignKey(Kitchen, on_delete=models.PROTECT, related_name="reminders")
    portion = models.ForeignKey(
        LoadPortion, null=True, blank=True, on_delete=models.PROTECT, related_name="reminders"
    )
    recipient = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="reminders"
    )
    kind = models.CharField(max_length=20, choices=Kind)
    channel = models.CharField(max_length=20, choices=Channel, default=Channel.EMAIL)
    jars_out_at = models.DateTimeField(null=True, blank=True)
    news = models.JSONField(default=dict, blank=True)
    about = models.CharField(max_length=120, blank=True)
    went_with = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="gathered"
    )
    reprocess_by = models.DateTimeField(null=True, blank=True)
    due_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.DUE)
    next_attempt_at = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    claim_token = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    last_failure = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ("due_at", "id")
        constraints = (
            models.UniqueConstraint(fields=("portion", "kind", "channel"), name="reminder_once"),
            models.CheckConstraint(condition=Q(kind__in=Kind.values), name="reminder_kind"),
            models.CheckConstraint(condition=Q(channel__in=Channel.values), name="reminder_channel"),
            models.CheckConstraint(
                condition=Q(kind__in=OF_JARS, portion__isnull=False, jars_out_at__isnull=False)
                | ~Q(kind__in=OF_JARS) & Q(portion__isnull=True, jars_out_at__isnull=True),
                name="reminder_of_jars_or_of_none",
            ),
            models.UniqueConstraint(
                fields=("recipient", "kind", "about", "channel"),
                condition=~Q(about=""),
                name="reminder_about_once",
            ),
            models.CheckConstraint(
                condition=Q(due_at__gt=F("jars_out_at")), name="reminder_due_after_jars_out"
            ),
            models.CheckConstraint(
                condition=Q(next_attempt_at__gte=F("due_at")), name="reminder_never_early"
            ),
            *sending("reminder"),
        )
        indexes = (
            models.Index(fields=("state", "next_attempt_at"), name="reminder_due"),
            models.Index(fields=("state", "lease_until"), name="reminder_lease"),
        )

    def __str__(self) -> str:
        return f"{self.get_kind_display()} for {self.recipient}, due {self.due_at:%Y-%m-%d %H:%M}"

    @property
    def late_by(self) -> timedelta | None:
        """How long after its time it was sent, never below nothing; None before it was."""
        return None if self.done_at is None else max(self.done_at - self.due_at, timedelta())


class Notice(models.Model):
    """A reminder on the member's own page, exactly one for each.

    It appears when sending was first tried, whether or not the mail went out: a broken mail server must not
    hide it. What it says is worked out from the reminder when it is shown, so that a deadline that has passed
    since is not shown as open.
    """

    reminder = models.OneToOneField(Reminder, on_delete=models.PROTECT, related_name="notice")
    recipient = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="notices")
    created_at = models.DateTimeField()
    seen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-created_at", "-id")
        indexes = (models.Index(fields=("recipient", "-created_at"), name="notice_recipient"),)

    def __str__(self) -> str:
        return f"Notice of {self.reminder}"


class MailChoices(models.Model):
    """When and about what a person wants e-mail. Nothing here concerns safety, and nothing the notices on their page.

    From ``quiet_from`` to ``quiet_until`` on the kitchen's clock nothing goes out; both are None, or neither. ``off``
    lists the kinds that they want no e-mail about; with ``once_a_day`` the rest comes in one message a day.
    """

    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="mail_choices"
    )
    quiet_from = models.TimeField(null=True, blank=True)
    quiet_until = models.TimeField(null=True, blank=True)
    once_a_day = models.BooleanField(default=False)
    off = models.JSONField(default=list, blank=True)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=Q(quiet_from__isnull=True, quiet_until__isnull=True)
                | Q(quiet_from__isnull=False, quiet_until__isnull=False) & ~Q(quiet_from=F("quiet_until")),
                name="mail_choices_quiet_whole",
            ),
        )

    def __str__(self) -> str:
        return f"Mail for {self.user}"


class SweepRun(models.Model):
    """One look at the queue: the sign of life that health pages read, and the measure of the clock.

    ``elapsed_seconds`` is a clock that no one can set, counted since the machine named by ``boot_id``
    started; where there is none ``boot_id`` is empty. ``step_seconds`` is how far the wall clock was moved
    since the run before, when that was more than it may be; then what became due only after ``held_from``
    waits until ``hold_until``.
    """

    wall = models.DateTimeField()
    elapsed_seconds = models.FloatField()
    boot_id = models.CharField(max_length=64, blank=True)
    step_seconds = models.FloatField(default=0)
    held_from = models.DateTimeField(null=True, blank=True)
    hold_until = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    sent = models.PositiveIntegerField(default=0)
    put_off = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ("-id",)
        constraints = (
            models.CheckConstraint(
                condition=Q(held_from__isnull=True, hold_until__isnull=True)
                | Q(held_from__isnull=False, hold_until__isnull=False),
                name="sweep_run_holds_whole",
            ),
        )
        indexes = (
            models.Index(fields=("boot_id", "-id"), name="sweep_run_boot"),
            models.Index(fields=("hold_until",), name="sweep_run_hold"),
        )

    def __str__(self) -> str:
        return f"Sweep at {self.wall:%Y-%m-%d %H:%M:%S}"
