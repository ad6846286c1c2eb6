"""What can be taken out: every table of the kitchen, how its rows lead to kitchen and person, and what stays behind."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.apps import apps
from django.db.models import Model
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A table of the database, ``of`` which model, and the file that it becomes.

    ``within`` leads from a row to its kitchen; ``personal`` is what is one person's alone, never the kitchen's to take.
    ``mine`` lead to the people whom a row is about. ``secret`` columns leave with nobody, ``private`` ones only with
    the person themselves. ``as_json`` is for rows that hold whole documents.
    """

    of: str
    file: str
    about: str | Promise
    within: str = "kitchen"
    personal: bool = False
    mine: tuple[str, ...] = ()
    secret: tuple[str, ...] = ()
    private: tuple[str, ...] = ()
    as_json: bool = False

    @property
    def model(self) -> type[Model]:
        """The table's model."""
        return apps.get_model(self.of)

    @property
    def name(self) -> str:
        """The file's name."""
        return f"{self.file}.json" if self.as_json else f"{self.file}.csv"

    def columns(self, *, own: bool = False) -> list[str]:
        """The columns that leave, in the order of the table; ``own`` for the person themselves."""
        stay = {*self.secret} if own else {*self.secret, *self.private}
        return [field.attname for field in self.model._meta.concrete_fields if field.name not in stay]


_DAY, _LOAD, _PORTION = (
    "harvest_day__kitchen",
    "load__harvest_day__kitchen",
    "portion__load__harvest_day__kitchen",
)
_MEMBER = "membership__kitchen"
TABLES = (
    Table(
        of="members.Kitchen",
        file="kitchen",
        within="pk",
        about=_("The kitchen and what it decided for itself"),
    ),
    Table(
        of="members.User",
        file="people",
        within="memberships__kitchen",
        mine=("pk",),
        secret=("password", "is_staff", "is_superuser"),
        private=("last_login", "language", "units"),
        about=_("Everybody who belongs here or did"),
    ),
    Table(
        of="members.Membership",
        file="memberships",
        mine=("user",),
        about=_("Who came when, with which role, and who left"),
    ),
    Table(of="members.OpeningHours", file="opening_hours", about=_("The usual opening hours; Monday is 0")),
    Table(
        of="members.CannerTraining",
        file="canner_trainings",
        within=_MEMBER,
        mine=("membership__user",),
        about=_("Who was trained to run a canner, and until when it counts"),
    ),
    Table(
        of="members.FoodTraining",
        file="food_trainings",
        within=_MEMBER,
        mine=("membership__user",),
        about=_("Who was taught to handle food, and until when it counts"),
    ),
    Table(
        of="members.ConfirmedProcess",
        file="confirmed_processes",
        mine=("confirmed_by",),
        about=_("The published lines that a lead confirmed"),
    ),
    Table(
        of="entrance.Passkey",
        file="my_passkeys",
        within="user__memberships__kitchen",
        personal=True,
        mine=("user",),
        secret=("credential_id", "public_key", "sign_count"),
        about=_("Passkeys by their names, without the keys themselves"),
    ),
    Table(
        of="helping.Wishes",
        file="wishes",
        within=_MEMBER,
        mine=("membership__user",),
        about=_("How long people want to work, and together with whom"),
    ),
    Table(
        of="helping.StationWish",
        file="station_wishes",
        within=_MEMBER,
        mine=("membership__user",),
        about=_("At which stations people like to work, or cannot"),
    ),
    Table(
        of="helping.BusyCalendar",
        file="my_calendars",
        within=_MEMBER,
        personal=True,
        mine=("membership__user",),
        about=_("Calendars that a member had read"),
    ),
    Table(
        of="helping.BusySpan",
        file="my_busy_times",
        within="calendar__membership__kitchen",
        personal=True,
        mine=("calendar__membership__user",),
        about=_("Busy times from these calendars"),
    ),
    Table(of="equipment.Burner", file="burners", about=_("The burners")),
    Table(of="equipment.Canner", file="canners", about=_("The canners with their measures")),
    Table(
        of="equipment.GaugeCheck",
        file="gauge_checks",
        within="canner__kitchen",
        mine=("recorded_by",),
        about=_("Checks of dial gauges; the error in pounds is what the gauge shows too much"),
    ),
    Table(of="equipment.Kettle", file="kettles", about=_("The kettles")),
    Table(of="equipment.CoolingTable", file="cooling_tables", about=_("The cooling tables")),
    Table(
        of="equipment.CannerTime",
        file="canner_times",
        secret=("occupies",),
        about=_("When each canner is taken, and for what"),
    ),
    Table(
        of="batches.Batch",
        file="batches",
        mine=("member",),
        about=_("What was brought: food, pack, jars, and when"),
    ),
    Table(of="batches.Slot", file="slots", mine=("member",), about=_("Canner time that members booked")),
    Table(
        of="batches.SlotStand",
        file="slot_stands",
        within="slot__kitchen",
        mine=("slot__member",),
        about=_("Room on cooling tables for booked times"),
    ),
    Table(
        of="learning.MeasuredTime",
        file="measured_times",
        mine=("recorded_by",),
        about=_("What work and canners took, in minutes"),
    ),
    Table(of="planning.HarvestDay", file="harvest_days", about=_("The harvest days")),
    Table(
        of="planning.PlanJob",
        file="plans",
        within=_DAY,
        as_json=True,
        about=_("Every plan that was made, with the question that it answers"),
    ),
    Table(
        of="planning.WhatIfJob",
        file="changes_looked_at",
        within="job__harvest_day__kitchen",
        as_json=True,
        about=_("Changes of a day that were looked at, and what each would bring"),
    ),
    Table(
        of="planning.Load", file="loads", within=_DAY, about=_("The loads with their process and lot code")
    ),
    Table(
        of="planning.LoadPhase",
        file="load_phases",
        within=_LOAD,
        about=_("The planned phases of each load"),
    ),
    Table(
        of="planning.LoadPortion",
        file="portions",
        within=_LOAD,
        mine=("batch__member",),
        about=_("Which jars of which batch are in which load"),
    ),
    Table(
        of="planning.LeftOut",
        file="left_out",
        within=_DAY,
        mine=("batch__member",),
        about=_("Jars for which a plan had no room, and why"),
    ),
    Table(
        of="rota.Attendance",
        file="hours",
        within=_DAY,
        mine=("user",),
        about=_("When people said that they come to help"),
    ),
    Table(
        of="rota.Shift",
        file="shifts",
        within=_DAY,
        mine=("user",),
        about=_("The rota: who works where and when"),
    ),
    Table(
        of="rota.FormerHolder",
        file="former_holders",
        within="shift__harvest_day__kitchen",
        mine=("user",),
        about=_("Who had a shift before"),
    ),
    Table(
        of="rota.SwapOffer",
        file="swap_offers",
        within="shift__harvest_day__kitchen",
        mine=("offered_by", "to", "accepted_by"),
        about=_("Shifts that were offered to others"),
    ),
    Table(
        of="reminders.Reminder",
        file="reminders",
        mine=("recipient",),
        secret=("claim_token", "lease_until"),
        about=_("Reminders and news, and what became of each"),
    ),
    Table(
        of="reminders.MailChoices",
        file="mail_choices",
        within="user__memberships__kitchen",
        personal=True,
        mine=("user",),
        about=_("When, and about what, e-mail is wanted"),
    ),
    Table(
        of="reminders.Notice",
        file="notices",
        within="reminder__kitchen",
        mine=("recipient",),
        about=_("Which of them were shown on a page, and read"),
    ),
    Table(
        of="seals.SealCheck",
        file="seal_checks",
        within=_PORTION,
        mine=("checked_by", "portion__batch__member"),
        about=_("How many jars sealed, did not seal or broke"),
    ),
    Table(
        of="seals.ReprocessOffer",
        file="reprocess_offers",
        within=_PORTION,
        mine=("portion__batch__member",),
        about=_("Unsealed jars that could be processed again, and until when"),
    ),
    Table(
        of="seals.HoldDecision",
        file="hold_decisions",
        within=_LOAD,
        mine=("decided_by",),
        about=_("What a lead decided about jars on hold"),
    ),
    Table(
        of="floor.RunEvent",
        file="run_sheet",
        within=_LOAD,
        mine=("recorded_by", "taken_by"),
        about=_("Every line of the run sheets, corrections too"),
    ),
    Table(
        of="booking.Hold",
        file="holds",
        mine=("member", "watcher"),
        about=_("Times that were held while somebody made up their mind"),
    ),
    Table(
        of="booking.Waiting",
        file="waiting",
        mine=("member",),
        about=_("Who waits for canner time on a full day"),
    ),
    Table(
        of="calendars.Feed",
        file="calendar_addresses",
        mine=("user",),
        secret=("digest",),
        about=_("Calendar addresses, without the addresses themselves"),
    ),
    Table(
        of="hooks.Hook",
        file="programs_told",
        mine=("made_by",),
        private=("address",),
        about=_("Programs that are told of reminders, without their addresses"),
    ),
    Table(
        of="hooks.Telling",
        file="told_to_programs",
        within="hook__kitchen",
        secret=("claim_token",),
        about=_("What programs were told, and how it went"),
    ),
    Table(
        of="labels.ShelfMove",
        file="shelf",
        within=_PORTION,
        mine=("portion__batch__member", "recorded_by"),
        about=_("Where jars went after they were sealed"),
    ),
    Table(
        of="labels.Reprocess",
        file="processed_again",
        within="offer__portion__load__harvest_day__kitchen",
        mine=("offer__portion__batch__member", "recorded_by"),
        about=_("Which jars became which, processed again"),
    ),
    Table(
        of="records.RecordSignature",
        file="signatures",
        within=_LOAD,
        mine=("by",),
        about=_("Who signed and who reviewed each process record"),
    ),
    Table(
        of="reprocess.ReprocessBooking",
        file="reprocess_bookings",
        within="offer__portion__load__harvest_day__kitchen",
        mine=("batch__member", "booked_by"),
        about=_("Times that were booked for processing jars again"),
    ),
    Table(
        of="api.Token",
        file="tokens",
        mine=("user",),
        secret=("digest",),
        about=_("Tokens of devices and programs, without the tokens themselves"),
    ),
    Table(
        of="audit.AuditEvent",
        file="audit",
        mine=("actor",),
        about=_("Who changed what: every change with the fields before and after"),
    ),
)


def of_kitchen() -> Iterator[Table]:
    """The tables that a kitchen may take."""
    return (table for table in TABLES if not table.personal)


def of_people() -> Iterator[Table]:
    """The tables that hold something about a person."""
    return (table for table in TABLES if table.mine)
