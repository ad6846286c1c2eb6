"""What the scheduler refuses, each refusal with a code and a remedy."""

from __future__ import annotations

from typing import ClassVar


class SchedulerError(Exception):
    """Base of every refusal: what is wrong, in the kitchen's words, and what to do about it."""

    code: ClassVar[str] = "scheduler-error"

    def __init__(self, message: str, *, remedy: str) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.message} {self.remedy}".strip()


class UnknownFood(SchedulerError):
    """The food is not in the published tables; ``nearest`` holds the ids of the closest foods."""

    code = "unknown-food"

    def __init__(self, message: str, *, remedy: str, nearest: tuple[str, ...]) -> None:
        super().__init__(message, remedy=remedy)
        self.nearest = nearest


class NoPublishedProcess(SchedulerError):
    """Rule S1: nothing is published for exactly this food, pack, jar, canner and altitude.

    ``published`` lists, in words, what is published for the food.
    """

    code = "no-published-process"

    def __init__(self, message: str, *, remedy: str, published: tuple[str, ...]) -> None:
        super().__init__(message, remedy=remedy)
        self.published = published


class AltitudeOutOfRange(SchedulerError):
    """The altitude lies outside every printed band."""

    code = "altitude-out-of-range"


class TablesDamaged(SchedulerError):
    """A file of the published tables is not what was checked in: nothing may be planned from it."""

    code = "tables-damaged"


class NoPublishedYield(SchedulerError):
    """No yield is published for this food in this unit: the amount must be given another way."""

    code = "no-published-yield"


class BadAmount(SchedulerError):
    """An amount of food or jars that nobody can bring: none, less than none, or part of a jar."""

    code = "bad-amount"


class CannerOutOfService(SchedulerError):
    """Rule S8: the canner must not be used, with the reason."""

    code = "canner-out-of-service"


class DoesNotFit(SchedulerError):
    """Jars that cannot stand in the canner: too tall, too wide, or too many."""

    code = "does-not-fit"


class BadRota(SchedulerError):
    """A rota's question that contradicts itself."""

    code = "bad-rota"


class CannotBeKept(SchedulerError):
    """Somebody whom the lead keeps at a piece of work and who may not have it: the message says who, where and why."""

    code = "cannot-be-kept"


class RotaNotWhole(SchedulerError):
    """Around what is kept, work is left that nobody was found for, or that asks too much: it says where and when."""

    code = "rota-not-whole"


class PlanNotOfDay(SchedulerError):
    """The plan does not answer this day, or no longer does: there is no rota to draw up for it."""

    code = "plan-not-of-day"


class BadDay(SchedulerError):
    """The question itself is contradictory: a pick-up before an arrival, a canner without a burner."""

    code = "bad-day"


class BadDayFile(SchedulerError):
    """A day file that cannot be read; the message names the line."""

    code = "bad-day-file"

    def __init__(self, message: str, *, remedy: str, line: int | None = None) -> None:
        super().__init__(message, remedy=remedy)
        self.line = line


class BadPlanFile(SchedulerError):
    """A plan file that cannot be read."""

    code = "bad-plan-file"


class FloorUnsettled(SchedulerError):
    """Something on the floor that no plan can mend: the lead must settle it before the rest is planned."""

    code = "floor-unsettled"
