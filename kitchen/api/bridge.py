"""What the API takes from the planner: the published processes, whole, and the caution."""

from __future__ import annotations

from dataclasses import dataclass

from kitchen.errors import BadIntake
from scheduler.canner_kind import CannerKind
from scheduler.caution import CAUTION
from scheduler.errors import NoPublishedProcess, SchedulerError
from scheduler.foods import find_food
from scheduler.jars import JarSize, Pack
from scheduler.process import Process, find_processes

__all__ = ["CAUTION", "PublishedProcess", "published_processes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedProcess:
    """A printed line as it stands (rules S1 and S3). ``jar`` is the printed jar, which the one asked about may borrow.

    Lengths in inches, pressures in pounds of the gauge, altitudes in feet, both ends of the band included.
    """

    key: str
    food: str
    food_name: str
    pack: str
    jar: str
    method: str
    pressure_psi: int | None
    process_minutes: int
    altitude_min_ft: int
    altitude_max_ft: int | None
    headspace_in: float
    sterilise_jars: bool
    acid: tuple[str, ...]
    low_acid: bool
    words: str
    source: str
    confidence: str


def published_processes(
    *, food: str, pack: str, jar: str, kind: str, altitude_ft: int
) -> list[PublishedProcess]:
    """Every printed line for exactly this. ``BadIntake`` says what is published where this is not."""
    try:
        known = find_food(food)
        found = find_processes(known.id, Pack(pack), JarSize(jar), CannerKind(kind), altitude_ft)
    except NoPublishedProcess as error:
        raise BadIntake(error.message, remedy=error.remedy, published=error.published) from error
    except SchedulerError as error:
        raise BadIntake(error.message, remedy=error.remedy) from error
    return [_told(process, known.name) for process in found]


def _told(process: Process, name: str) -> PublishedProcess:
    return PublishedProcess(
        key=process.key,
        food=process.food_id,
        food_name=name,
        pack=process.pack.value,
        jar=process.jar.value,
        method=process.method.value,
        pressure_psi=process.pressure_psi,
        process_minutes=process.process_minutes,
        altitude_min_ft=process.altitude_min_ft,
        altitude_max_ft=process.altitude_max_ft,
        headspace_in=process.headspace_in,
        sterilise_jars=process.sterilise_jars,
        acid=tuple(dose.words for dose in process.acid),
        low_acid=process.low_acid,
        words=process.words,
        source=process.source,
        confidence=process.confidence.words,
    )
