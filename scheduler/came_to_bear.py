"""What a made-up day holds, and whether it came to bear on its plan: so that a silence of the judge means something."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping

from scheduler.canner import check_gauge
from scheduler.errors import CannerOutOfService
from scheduler.pace import Pace
from scheduler.plan import Load, Plan, Task, TaskKind
from scheduler.printed_process import Confidence
from scheduler.problem import Day, Person
from scheduler.process import process_named
from scheduler.rota.naming import STATION_OF
from scheduler.what_if.standing import standings


def _batches(day: Day, load: Load) -> Iterator[bool]:
    held = {portion.batch_id for portion in load.portions}
    yield from (batch.meat_or_fish for batch in day.batches if batch.id in held)


def _meat(day: Day, planned: Plan) -> bool:
    return any(any(_batches(day, load)) for load in planned.loads)


def _several_days(day: Day, planned: Plan) -> bool:
    """Loads on more than one date."""
    return len({load.span.start // (24 * 60) for load in planned.loads}) > 1


def _midday(day: Day, planned: Plan) -> bool:
    """Loads before and after a closure of the same day."""
    before = {span.start // (24 * 60) for span in day.opening}
    return len(before) < len(day.opening) and bool(planned.loads)


def _used(planned: Plan) -> set[str]:
    return {load.canner_id for load in planned.loads}


def _away(day: Day, planned: Plan) -> bool:
    used = _used(planned)
    return any(one.id in used and one.service != day.opening for one in day.canners)


def _gauge(day: Day, planned: Plan) -> bool:
    for canner in day.canners:
        try:
            check_gauge(canner, day.date, until=day.last_date)
        except CannerOutOfService:
            return bool(planned.loads)
    return False


def _paced(day: Day, planned: Plan) -> bool:
    used = _used(planned)
    return any(one.id in used and one.pace != Pace() for one in day.canners)


def _under_16(day: Day, planned: Plan) -> bool:
    young = {one.id for one in day.people if one.under_16}
    return any(one.person_id in young for one in planned.assignments)


def _at_work(day: Day, planned: Plan) -> Iterator[tuple[Person, Task]]:
    """Each person with each task that they are put down for."""
    people = {one.id: one for one in day.people}
    tasks = {one.id: one for one in planned.tasks}
    yield from ((people[one.person_id], tasks[one.task_id]) for one in planned.assignments)


def _any_at_work(asks: Callable[[Person], bool]) -> Callable[[Day, Plan], bool]:
    """True when anybody at work asks for this."""
    return lambda day, planned: any(asks(person) for person, _ in _at_work(day, planned))


def _liked(day: Day, planned: Plan) -> bool:
    return any(STATION_OF[task.kind] in person.likes for person, task in _at_work(day, planned))


def _looks_on(day: Day, planned: Plan) -> bool:
    """Somebody who learns beside a watch."""
    return any(task.kind is TaskKind.WATCH and person.learning for person, task in _at_work(day, planned))


def _gave_all(day: Day, planned: Plan) -> bool:
    """Somebody for whom one task more of half an hour would be more than they offered."""
    minutes: Counter[str] = Counter()
    for one in planned.assignments:
        minutes[one.person_id] += one.end - one.start
    return any(one.most_minutes is not None and minutes[one.id] > one.most_minutes - 30 for one in day.people)


def _kettle(day: Day, planned: Plan) -> bool:
    return any(task.kind is TaskKind.KETTLE for task in planned.tasks)


def _kettle_on_burner(day: Day, planned: Plan) -> bool:
    shared = {one.burner_id for one in day.canners}
    on_them = {one.id for one in day.kettles if one.burner_id in shared}
    return any(task.kettle_id in on_them for task in planned.tasks if task.kettle_id is not None)


def _burner_shared(day: Day, planned: Plan) -> bool:
    used = [one.burner_id for one in day.canners if one.id in _used(planned)]
    return len(set(used)) < len(used)


def _table_taken(day: Day, planned: Plan) -> bool:
    taken = {one.id for one in day.tables if one.taken}
    return any(load.stand is not None and load.stand.table_id in taken for load in planned.loads)


def _confirmed(day: Day, planned: Plan) -> bool:
    keys = {portion.process_key for load in planned.loads for portion in load.portions}
    return any(process_named(key).confidence is Confidence.ONE_PAGE for key in keys)


def _borrowed(day: Day, planned: Plan) -> bool:
    """A jar that takes the process of another printed jar (rule S1)."""
    jars = {batch.id: batch.jar for batch in day.batches}
    portions = [portion for load in planned.loads for portion in load.portions]
    return any(process_named(one.process_key).jar is not jars[one.batch_id] for one in portions)


def _shared(day: Day, planned: Plan) -> bool:
    return any(len(load.portions) > 1 for load in planned.loads)


def _split(day: Day, planned: Plan) -> bool:
    held = [portion.batch_id for load in planned.loads for portion in load.portions]
    return len(set(held)) < len(held)


FEATURES: Mapping[str, Callable[[Day, Plan], bool]] = {
    "loads on several days": _several_days,
    "closed at midday": _midday,
    "meat or fish in a canner": _meat,
    "meat with a cut-off": lambda day, planned: day.policy.meat_cut_off is not None and _meat(day, planned),
    "a kettle in use": _kettle,
    "a kettle on a canner's burner in use": _kettle_on_burner,
    "two canners on one burner in use": _burner_shared,
    "stations with hands": lambda day, planned: bool(day.stations and planned.loads),
    "under-16s at work": _under_16,
    "somebody at a station they like": _liked,
    "somebody at work who cannot work everywhere": _any_at_work(lambda person: bool(person.cannot)),
    "somebody trained at work who cannot watch": _any_at_work(
        lambda person: person.trained and not person.may_watch
    ),
    "somebody at work as long as they offered": _gave_all,
    "somebody at work who comes with another": _any_at_work(lambda person: person.comes_with is not None),
    "somebody at work who did more before": _any_at_work(lambda person: person.carried_minutes > 0),
    "a learner beside a watch": _looks_on,
    "a canner away part of the time in use": _away,
    "a gauge that takes a canner out of service": _gauge,
    "learned paces of a canner in use": _paced,
    "a learned pace of filling": lambda day, planned: day.policy.fill_pace != 1 and bool(planned.loads),
    "a table with yesterday's jars in use": _table_taken,
    "a row that the lead confirmed": _confirmed,
    "a jar with another jar's process": _borrowed,
    "a load shared by batches": _shared,
    "a batch in several loads": _split,
    "jars filled up with water": lambda _, planned: any(load.water_jars for load in planned.loads),
    "jars left out": lambda _, planned: bool(planned.left_out),
    "a batch brought home late": lambda day, planned: any(
        one.late for one in standings(day, planned).values()
    ),
    "everything placed": lambda _, planned: not planned.left_out,
}
"""What a day may hold, and whether it came to bear on a plan."""
