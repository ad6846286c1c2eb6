"""What may be canned at the made-up kitchens, as it is printed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from scheduler.canner_kind import CannerKind
from scheduler.errors import SchedulerError
from scheduler.foods import find_food
from scheduler.jars import JarSize
from scheduler.printed_process import Confidence
from scheduler.process import find_processes, printed_processes

_MOST = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Canned:
    """A food in quarts or pints and the printed line for it in a weighted-gauge canner."""

    food_id: str
    food_name: str
    pack: str
    jar: str
    process_key: str
    headspace_in: float
    minutes: int
    pressure_psi: int


@cache
def what_is_canned(altitude_ft: float) -> tuple[Canned, ...]:
    """One line of each of a dozen foods, in the order of the tables; rows of confidence A alone."""
    found: dict[str, Canned] = {}
    for printed in printed_processes():
        if printed.food_id in found or printed.jar not in {JarSize.QUART, JarSize.PINT}:
            continue
        try:
            lines = find_processes(
                printed.food_id, printed.pack, printed.jar, CannerKind.WEIGHTED, altitude_ft
            )
        except SchedulerError:
            continue
        line = lines[0]
        if line.confidence is not Confidence.TWO_PAGES or line.pressure_psi is None:
            continue
        found[printed.food_id] = Canned(
            food_id=printed.food_id,
            food_name=find_food(printed.food_id).name,
            pack=printed.pack.value,
            jar=printed.jar.value,
            process_key=line.key,
            headspace_in=line.headspace_in,
            minutes=line.process_minutes,
            pressure_psi=line.pressure_psi,
        )
    return tuple(found.values())[:_MOST]
