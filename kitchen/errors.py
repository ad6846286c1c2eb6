"""What the kitchen refuses, each refusal with a code, a remedy and, where it helps, the data behind it."""

from __future__ import annotations

from datetime import datetime
from typing import ClassVar

from django.core.exceptions import ImproperlyConfigured


class KitchenError(Exception):
    """Base of every refusal: what is wrong, in the kitchen's words, and what to do about it."""

    code: ClassVar[str] = "kitchen-error"

    def __init__(self, message: str, *, remedy: str) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.message} {self.remedy}".strip()


class NotAllowed(KitchenError):
    """The person may not do this in this kitchen."""

    code = "not-allowed"


class TooManyAttempts(KitchenError):
    """A password was tried, or a message asked for, too often."""

    code = "too-many-attempts"


class TooLarge(KitchenError):
    """More than anybody has to send at once."""

    code = "too-large"


class BadSetting(KitchenError):
    """A kitchen's setting or policy outside what is safe or possible."""

    code = "bad-setting"


class BadMembership(KitchenError):
    """A membership or training that cannot stand: twice, in the future, or the last lead leaving."""

    code = "bad-membership"


class OutOfService(KitchenError):
    """Rule S8: the canner must not be used, with the reason."""

    code = "canner-out-of-service"


class BadTime(KitchenError):
    """A time that cannot be: an end before its start, outside opening hours, too early or too late."""

    code = "bad-time"


class SlotTaken(KitchenError):
    """The canner, or its burner, is taken.

    ``clashes`` holds the times in the way, first to last; empty when not known.
    """

    code = "slot-taken"

    def __init__(
        self, message: str, *, remedy: str, clashes: tuple[tuple[datetime, datetime], ...] = ()
    ) -> None:
        super().__init__(message, remedy=remedy)
        self.clashes = clashes


class BadIntake(KitchenError):
    """What a member declared cannot be canned here.

    ``published`` says what is published, where that is the trouble.
    """

    code = "bad-intake"

    def __init__(self, message: str, *, remedy: str, published: tuple[str, ...] = ()) -> None:
        super().__init__(message, remedy=remedy)
        self.published = published


class BadTable(KitchenError):
    """A table of what is brought that cannot be read, or of which rows cannot be noted.

    ``problems`` names each row and column, where that is the trouble.
    """

    code = "bad-table"

    def __init__(self, message: str, *, remedy: str, problems: tuple[str, ...] = ()) -> None:
        super().__init__(message, remedy=remedy)
        self.problems = problems


class BadAddress(KitchenError):
    """An address that nothing may be asked or told at."""

    code = "bad-address"


class NoAnswer(KitchenError):
    """Another host could not be reached, or was too slow."""

    code = "no-answer"


class BadCalendar(KitchenError):
    """A calendar that cannot be read, or an address from which none can be fetched."""

    code = "bad-calendar"


class BadWishes(KitchenError):
    """What a member asks of the rota that cannot be: to come with oneself, or to learn at a canner under 16."""

    code = "bad-wishes"


class BadHarvestDay(KitchenError):
    """A harvest day that cannot be opened, planned or changed as asked."""

    code = "bad-harvest-day"


class CannotKeep(KitchenError):
    """Somebody whom the lead keeps at a piece of work and who may not have it, or a shift that no longer stands."""

    code = "cannot-keep"


class PlanningUnderWay(KitchenError):
    """The day is being planned already."""

    code = "planning-under-way"


class PlanOutOfDate(KitchenError):
    """The day changed after the plan was made, or another plan was published first."""

    code = "plan-out-of-date"


class PlanBreaksRule(KitchenError):
    """The judge found that the plan breaks a safety rule. ``violations`` lists them in words."""

    code = "plan-breaks-rule"

    def __init__(self, message: str, *, remedy: str, violations: tuple[str, ...]) -> None:
        super().__init__(message, remedy=remedy)
        self.violations = violations


class OutOfOrder(KitchenError):
    """A step that cannot follow the steps before it (rule S4), or a record that cannot be corrected."""

    code = "out-of-order"


class BadReading(KitchenError):
    """A figure that no instrument in a kitchen shows."""

    code = "bad-reading"


class AlreadyRecorded(KitchenError):
    """A press that came twice, or from two tablets: the record holds it once already."""

    code = "already-recorded"


class RecordMovedOn(KitchenError):
    """A press for a step that was shown before somebody else wrote in the record."""

    code = "record-moved-on"


class TooEarly(KitchenError):
    """Rules S4 and S11: not before ``earliest``."""

    code = "too-early"

    def __init__(self, message: str, *, remedy: str, earliest: datetime) -> None:
        super().__init__(message, remedy=remedy)
        self.earliest = earliest


class WrongCount(KitchenError):
    """Counted jars that do not add up to the jars that went in."""

    code = "wrong-count"


class AlreadyDecided(KitchenError):
    """Something that was decided, counted or given up before."""

    code = "already-decided"


class RecordChanged(KitchenError):
    """A process record in which something was written after it was shown."""

    code = "record-changed"


class JarsOnHold(KitchenError):
    """Rule S16: jars that wait for a lead's decision, or that a lead had thrown out."""

    code = "jars-on-hold"


class NotReadyForLabel(KitchenError):
    """Jars that get no shelf label: not out, not checked, or not sealed."""

    code = "not-ready-for-label"


class LabelTooSmall(KitchenError):
    """A label on which the whole text does not fit at the smallest type allowed."""

    code = "label-too-small"


class WrongReprocess(KitchenError):
    """Jars that cannot be those of another lot, processed again."""

    code = "wrong-reprocess"


class NoTimeAgain(KitchenError):
    """Rule S11: no time in which jars can be processed again before the deadline, or not the one that was chosen."""

    code = "no-time-again"


class BadLink(KitchenError):
    """A signed link that was cut short, changed, has run out or leads a person where they no longer belong."""

    code = "bad-link"


class ShiftTaken(KitchenError):
    """Somebody else was faster: the shift, or the swap, is theirs."""

    code = "shift-taken"


class TooMuchWork(KitchenError):
    """More than the kitchen asks of one person: no rest for too long, too long a day, too short a night."""

    code = "too-much-work"


class NotDelivered(KitchenError):
    """A message that the mail server did not take."""

    code = "not-delivered"


class BadConfiguration(KitchenError, ImproperlyConfigured):
    """An environment variable or file with which the program will not start."""

    code = "bad-configuration"


class BadBackup(KitchenError):
    """A backup that cannot be made, is damaged, or does not belong where it is to be restored."""

    code = "bad-backup"


class TaskTooFarAhead(KitchenError):
    """A task that would wait in the broker for longer than a broker can be trusted."""

    code = "task-too-far-ahead"


class ChildKeepsDying(KitchenError):
    """The web server or the worker ends again and again."""

    code = "child-keeps-dying"
