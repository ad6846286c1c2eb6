"""What may be canned at the made-up kitchens, as it is printed; and their agenda as a calendar."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache

from icalendar import Calendar, Event

from scheduler.agenda import Entry, to_ics
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


def made_up_agenda(many: int) -> list[Entry]:
    """So many loads one after the other, worded like those of a feed."""
    first = datetime(2026, 9, 12, 15, 10, tzinfo=UTC)
    return [
        Entry(
            uid=f"load-{number}@kitchen.invalid",
            start=first + timedelta(hours=2 * number),
            end=first + timedelta(hours=2 * number, minutes=105),
            summary=f"Weighted canner {number % 8}: 7 quart jars of Green beans",
            description="Sat 12 Sep 2026, 09:10 to 10:55 (MDT)\nLot K001-SNABEA-26255-W1-1\n09:10 fill; 09:40 vent",
            location="Mill Lane kitchen, the large room",
            sequence=number % 3,
            last_modified=first,
        )
        for number in range(many)
    ]


def written_agenda(agenda: Sequence[Entry]) -> bytes:
    """As the kitchen's feeds are written."""
    return to_ics("Mill Lane kitchen, harvest days", agenda)


def plain_calendar(agenda: Sequence[Entry]) -> bytes:
    """The same entries by the library's own means, with nothing looked at or made safe."""
    calendar = Calendar()
    calendar.add("prodid", "-//bench//EN")
    calendar.add("version", "2.0")
    for entry in agenda:
        event = Event()
        event.add("uid", entry.uid)
        event.add("dtstart", entry.start)
        event.add("dtend", entry.end)
        event.add("dtstamp", entry.last_modified)
        event.add("last-modified", entry.last_modified)
        event.add("sequence", entry.sequence)
        event.add("summary", entry.summary)
        event.add("description", entry.description)
        event.add("location", entry.location)
        event.add("status", "CONFIRMED")
        event.add("transp", "OPAQUE")
        calendar.add_component(event)
    return bytes(calendar.to_ical())
