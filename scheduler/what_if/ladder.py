"""Which changes to try for a batch, and in which order.

The order is common practice, no source: first what the member of the batch alone would do, then things, then helpers,
then hours, then trained people, who are scarce; another day comes last. Within a kind the smaller comes first.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from scheduler.errors import NoPublishedProcess
from scheduler.interval import Span
from scheduler.jars import JarSize, Pack
from scheduler.problem import Batch, Day
from scheduler.process import find_processes
from scheduler.what_if.change import Change
from scheduler.what_if.of_batch import (
    DAY_MINUTES,
    AnotherDay,
    ArriveEarlier,
    NextDay,
    OtherJar,
    OtherPack,
    PickUpLater,
)
from scheduler.what_if.of_kitchen import CloseLater, OneMoreKettle, OneMorePerson, OneMoreTable

# Steps that people would speak of, in minutes. Common practice, no source.
EARLIER_MINUTES = (30, 60, 120)
LATER_MINUTES = (30, 60, 90, 120, 180)
PICKUP_STEP_MINUTES = 30
PICKUP_STEPS = (1, 2, 4, 6)
# The jars in which families put up the same food. Common practice, no source.
OTHER_JARS = {JarSize.QUART: JarSize.PINT, JarSize.PINT: JarSize.QUART, JarSize.HALF_GALLON: JarSize.QUART}
# A stock pot as kitchens have them, when there is none to go by; a folding table of 30 by 72 in. Common practice, no
# source.
KETTLE_QT = 16.0
TABLE_SQ_IN = 30.0 * 72.0

Changes = tuple[Change, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rung:
    """Changes of one kind, the smallest first; ``words`` name the kind when none of them helps, empty for none."""

    words: str
    choices: tuple[Changes, ...]


def ladder(day: Day, batch: Batch, *, late: bool) -> Iterator[Rung]:
    """The rungs for a batch that is left out or ``late``, from small to large; rungs without a choice are left out."""
    makers: list[Callable[[Day, Batch], Rung]] = [_again, _pick_up_later] if late else [_again]
    makers += [
        _earlier,
        _other_jar,
        _other_pack,
        _kettle,
        _table,
        _helper,
        _later,
        _trained,
        _later_and_trained,
        _other_day,
    ]
    for make in makers:
        rung = make(day, batch)
        if rung.choices:
            yield rung


def _again(_: Day, __: Batch) -> Rung:
    """No change at all: another search may place what the first one left out."""
    return Rung(words="", choices=((),))


def _pick_up_later(day: Day, batch: Batch) -> Rung:
    """Step by step, and at closing: nothing comes out after that."""
    first = -(-batch.pickup // PICKUP_STEP_MINUTES) * PICKUP_STEP_MINUTES
    steps = [first + step * PICKUP_STEP_MINUTES for step in PICKUP_STEPS]
    times = [time for time in steps if batch.pickup < time < day.horizon]
    times += [day.horizon] if batch.pickup < day.horizon else []
    return Rung(
        words="a later pick-up",
        choices=tuple((PickUpLater(batch_id=batch.id, pickup=time),) for time in times),
    )


def _earlier(day: Day, batch: Batch) -> Rung:
    opens = max((span.start for span in day.opening if span.start <= batch.arrival), default=batch.arrival)
    times = [batch.arrival - minutes for minutes in EARLIER_MINUTES]
    return Rung(
        words="bringing it earlier",
        choices=tuple((ArriveEarlier(batch_id=batch.id, arrival=time),) for time in times if time >= opens),
    )


def _other_jar(day: Day, batch: Batch) -> Rung:
    jar = OTHER_JARS.get(batch.jar)
    published = jar is not None and _is_published(day, batch, batch.pack, jar)
    return Rung(
        words="the other size of jar",
        choices=((OtherJar(batch_id=batch.id, jar=jar),),) if jar is not None and published else (),
    )


def _other_pack(day: Day, batch: Batch) -> Rung:
    pack = Pack.RAW if batch.pack is Pack.HOT else Pack.HOT
    published = _is_published(day, batch, pack, batch.jar)
    return Rung(
        words="the other pack",
        choices=((OtherPack(batch_id=batch.id, pack=pack),),) if published else (),
    )


def _is_published(day: Day, batch: Batch, pack: Pack, jar: JarSize) -> bool:
    """True when a process is published for one of the kitchen's kinds of canner (rule S1)."""
    for kind in dict.fromkeys(canner.kind for canner in day.canners):
        try:
            find_processes(batch.food_id, pack, jar, kind, day.altitude_ft)
        except NoPublishedProcess:
            continue
        return True
    return False


def _kettle(day: Day, batch: Batch) -> Rung:
    volume_qt = max((kettle.volume_qt for kettle in day.kettles), default=KETTLE_QT)
    return Rung(
        words="one more kettle",
        choices=((OneMoreKettle(volume_qt=volume_qt),),) if batch.kettle_minutes else (),
    )


def _table(day: Day, _: Batch) -> Rung:
    return Rung(
        words="one more cooling table",
        choices=((OneMoreTable(area_sq_in=TABLE_SQ_IN),),) if day.tables else (),
    )


def _helper(day: Day, _: Batch) -> Rung:
    return Rung(words="one more helper", choices=_people(day, trained=False))


def _later(_: Day, __: Batch) -> Rung:
    return Rung(
        words="closing later",
        choices=tuple((CloseLater(minutes=minutes),) for minutes in LATER_MINUTES),
    )


def _trained(day: Day, _: Batch) -> Rung:
    return Rung(words="one more trained person", choices=_people(day, trained=True))


def _later_and_trained(day: Day, _: Batch) -> Rung:
    choices: list[Changes] = []
    for minutes in (60, 120, 180):
        later = CloseLater(minutes=minutes)
        hours = later.apply(day).opening
        choices.append((later, OneMorePerson(trained=True, hours=hours, with_place=bool(day.stations))))
    return Rung(words="closing later with one more trained person", choices=tuple(choices))


def _other_day(day: Day, batch: Batch) -> Rung:
    if day.horizon - day.opening[0].start <= DAY_MINUTES:
        times = (AnotherDay(batch_id=batch.id), AnotherDay(batch_id=batch.id, all_day=True))
        return Rung(words="another day", choices=tuple((one,) for one in times))
    later = batch.arrival + DAY_MINUTES < day.horizon
    return Rung(words="the next day", choices=((NextDay(batch_id=batch.id),),) if later else ())


def _people(day: Day, *, trained: bool) -> tuple[Changes, ...]:
    """Half a day, then all of it; with room at the stations last."""
    hours = [*_halves(day), day.opening]
    alone: list[Changes] = [(OneMorePerson(trained=trained, hours=one),) for one in hours]
    placed: list[Changes] = [(OneMorePerson(trained=trained, hours=day.opening, with_place=True),)]
    return (*alone, *(placed if day.stations else []))


def _halves(day: Day) -> list[tuple[Span, ...]]:
    """Morning and afternoon, parted at the half hour next to the middle; none when there are several spans."""
    if len(day.opening) != 1:
        return []
    (span,) = day.opening
    middle = span.start + span.minutes // 2 // 30 * 30
    if not span.start < middle < span.end:
        return []
    return [(Span(span.start, middle),), (Span(middle, span.end),)]
