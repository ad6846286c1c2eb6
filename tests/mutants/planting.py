"""Made-up days, planned, with small faults planted: the same seed, the same case."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from random import Random
from typing import TypeVar

from scheduler.commands.bench_judged import planned_by_effort
from scheduler.disruptions import Disruption, disrupt
from scheduler.errors import BadDay, FloorUnsettled
from scheduler.every_feature import every_feature_day
from scheduler.generator import random_day
from scheduler.plan import Assignment, Load, Plan, Task
from scheduler.problem import Day, Person, Policy, StationKind
from scheduler.replan import replan
from tests.factories.days import restated
from tests.mutants.cases import Tried

_EFFORT_SECONDS = 0.01
_FAULTS_A_PLAN = 14
_STEPS = (-30, -5, -1, 1, 5, 30)

_Thing = TypeVar("_Thing")


def made_up_cases(seeds: int) -> Iterator[Tried]:
    """So many odd days, half as many full ones, some of them under way, each with faults planted one by one."""
    for seed in range(seeds):
        day = every_feature_day(seed) if seed % 3 else random_day(seed, "S")
        plan = planned_by_effort(day, _EFFORT_SECONDS, seed)
        if seed % 2 and plan.loads:
            day, plan = _under_way(day, plan, seed)
        yield Tried(day, plan, named=False)
        # Not for secrets: the seed must bring the same faults back.
        random = Random(f"planted {seed}")  # noqa: S311
        for _ in range(_FAULTS_A_PLAN if plan.loads and plan.assignments and plan.tasks else 0):
            changed, wrong = day, plan
            try:
                if random.random() < 0.4:
                    changed = random.choice(_OF_DAYS)(day, random)
                else:
                    wrong = random.choice(_OF_PLANS)(plan, random)
            except BadDay:
                continue  # Such a day is refused before anything is planned.
            yield Tried(changed, restated(changed, wrong), named=False)


def _under_way(day: Day, plan: Plan, seed: int) -> tuple[Day, Plan]:
    try:
        disrupted = disrupt(day, plan, list(Disruption)[seed // 2 % len(Disruption)], seed)
        return disrupted.day, replan(
            disrupted.day, plan, seconds=_EFFORT_SECONDS, seed=seed, clock=lambda: 0.0
        )
    except (BadDay, FloorUnsettled):
        return day, plan


def _one_changed(
    values: tuple[_Thing, ...], random: Random, change: Callable[[_Thing], _Thing]
) -> tuple[_Thing, ...]:
    index = random.randrange(len(values))
    return (*values[:index], change(values[index]), *values[index + 1 :])


def _one_dropped(values: tuple[_Thing, ...], random: Random) -> tuple[_Thing, ...]:
    index = random.randrange(len(values))
    return values[:index] + values[index + 1 :]


def _later_task(plan: Plan, random: Random) -> Plan:
    """One task with its people."""
    minutes, longer = random.choice(_STEPS), random.choice(_STEPS) * random.randrange(2)
    index = random.randrange(len(plan.tasks))
    was = plan.tasks[index]
    task = replace(was, start=was.start + minutes, end=was.end + minutes + longer)
    people = (
        replace(
            one, start=max(task.start, one.start + minutes), end=min(task.end, one.end + minutes + longer)
        )
        if one.task_id == task.id
        else one
        for one in plan.assignments
    )
    return replace(
        plan, tasks=(*plan.tasks[:index], task, *plan.tasks[index + 1 :]), assignments=tuple(people)
    )


def _other_hands(plan: Plan, random: Random) -> Plan:
    step = random.choice((-1, 1))

    def changed(task: Task) -> Task:
        return replace(task, hands=task.hands + step)

    return replace(plan, tasks=_one_changed(plan.tasks, random, changed))


def _moved_edge(plan: Plan, random: Random) -> Plan:
    """Where one phase of a load ends and the next begins."""
    minutes = random.choice(_STEPS)

    def changed(load: Load) -> Load:
        index = random.randrange(len(load.phases) - 1)
        before, after = load.phases[index : index + 2]
        moved = (replace(before, end=before.end + minutes), replace(after, start=after.start + minutes))
        return replace(load, phases=(*load.phases[:index], *moved, *load.phases[index + 2 :]))

    return replace(plan, loads=_one_changed(plan.loads, random, changed))


def _later_load(plan: Plan, random: Random) -> Plan:
    """A load with all its times, its tasks and its people."""
    minutes, load = random.choice(_STEPS), random.choice(plan.loads)
    tasks = {task.id for task in plan.tasks if task.load_id == load.id}
    stand = load.stand
    moved = replace(
        load,
        phases=tuple(replace(one, start=one.start + minutes, end=one.end + minutes) for one in load.phases),
        stand=None if stand is None else replace(stand, start=stand.start + minutes, end=stand.end + minutes),
        first_call=load.first_call + minutes,
        seal_check=load.seal_check + minutes,
        reprocess_by=load.reprocess_by + minutes,
    )
    return replace(
        plan,
        loads=tuple(moved if one is load else one for one in plan.loads),
        tasks=tuple(
            replace(one, start=one.start + minutes, end=one.end + minutes) if one.id in tasks else one
            for one in plan.tasks
        ),
        assignments=tuple(
            replace(one, start=one.start + minutes, end=one.end + minutes) if one.task_id in tasks else one
            for one in plan.assignments
        ),
    )


def _load_told_otherwise(plan: Plan, random: Random) -> Plan:
    def changed(load: Load) -> Load:
        stand = load.stand
        first, *others = load.portions
        return random.choice(
            (
                replace(load, water_jars=load.water_jars + 1),
                replace(load, number=load.number + 1),
                replace(load, process_minutes=load.process_minutes - 1),
                replace(load, pressure_psi=10.0),
                replace(load, target_reading_psi=10.0),
                replace(load, seal_check=load.seal_check + 1),
                replace(load, on_hold=True),
                replace(load, interruptions=(load.phases[-3].start,)),
                replace(load, canner_id=random.choice(plan.loads).canner_id),
                replace(load, stand=None if stand is None else replace(stand, end=stand.end - 1)),
                replace(
                    load, stand=None if stand is None else replace(stand, area_sq_in=stand.area_sq_in + 0.1)
                ),
                replace(load, portions=(replace(first, jars=first.jars + 1), *others)),
                replace(load, portions=tuple(others)),
            )
        )

    return replace(plan, loads=_one_changed(plan.loads, random, changed))


def _other_person(plan: Plan, random: Random) -> Plan:
    person = random.choice(plan.assignments).person_id

    def changed(one: Assignment) -> Assignment:
        return replace(one, person_id=person)

    return replace(plan, assignments=_one_changed(plan.assignments, random, changed))


def _shorter_assignment(plan: Plan, random: Random) -> Plan:
    early, late = random.choice(((0, -1), (1, 0), (-1, 0), (0, 1), (0, -20), (20, 0)))

    def changed(one: Assignment) -> Assignment:
        return replace(one, start=one.start + early, end=one.end + late)

    return replace(plan, assignments=_one_changed(plan.assignments, random, changed))


def _beside(plan: Plan, random: Random) -> Plan:
    """Somebody else at a task as well, for a part of it."""
    one, other = random.choice(plan.assignments), random.choice(plan.assignments)
    start = random.randint(one.start, one.end)
    beside = replace(
        one, person_id=other.person_id, start=start, end=max(start, one.end - random.choice((0, 10)))
    )
    return replace(plan, assignments=(*plan.assignments, beside))


_OF_PLANS: tuple[Callable[[Plan, Random], Plan], ...] = (
    _later_task,
    _later_task,
    _other_hands,
    _moved_edge,
    _later_load,
    _load_told_otherwise,
    _load_told_otherwise,
    _other_person,
    _shorter_assignment,
    _beside,
    lambda plan, random: replace(plan, tasks=_one_dropped(plan.tasks, random)),
    lambda plan, random: replace(plan, assignments=_one_dropped(plan.assignments, random)),
    lambda plan, random: replace(plan, loads=_one_dropped(plan.loads, random)),
    lambda plan, _: replace(plan, warnings=()),
)


def _other_policy(day: Day, random: Random) -> Day:
    policy: Policy = day.policy
    return replace(
        day,
        policy=random.choice(
            (
                replace(policy, canners_per_person=1),
                replace(policy, fill_wait_limit_minutes=max(1, policy.fill_wait_limit_minutes - 12)),
                replace(policy, cool_down_minutes=policy.cool_down_minutes + 1),
                replace(policy, share_under_longest=not policy.share_under_longest),
                replace(policy, cleaning_minutes=policy.cleaning_minutes + 5),
                replace(policy, cooling_stand_minutes=1440),
                replace(policy, meat_cut_off=random.randint(400, 1200)),
                replace(policy, fill_hands=1),
                replace(policy, fill_pace=2.0),
                replace(policy, break_every_minutes=random.randint(60, 120)),
                replace(policy, meal_after_minutes=random.randint(120, 200)),
                replace(policy, longest_shift_minutes=random.randint(120, 500)),
                replace(policy, walking_minutes=random.randint(1, 15)),
                replace(policy, confirmed_processes=frozenset()),
            )
        ),
    )


def _other_helper(day: Day, random: Random) -> Day:
    def changed(person: Person) -> Person:
        first, *others = person.hours
        return random.choice(
            (
                replace(person, trained=not person.trained),
                replace(person, under_16=True),
                replace(person, learning=True, trained=False),
                replace(person, cannot=frozenset({random.choice(tuple(StationKind))})),
                replace(person, most_minutes=random.randint(1, 300)),
                replace(
                    person, comes_with=random.choice([one.id for one in day.people if one is not person])
                ),
                replace(person, hours=(replace(first, end=max(first.start + 1, first.end - 200)), *others)),
            )
        )

    return replace(day, people=_one_changed(day.people, random, changed))


_OF_DAYS: tuple[Callable[[Day, Random], Day], ...] = (
    _other_policy,
    _other_policy,
    _other_helper,
    _other_helper,
    lambda day, random: replace(day, canners=_one_dropped(day.canners, random)),
    lambda day, random: replace(day, stations=day.stations[1:]),
    lambda day, random: replace(day, tables=day.tables[1:]),
    lambda day, random: replace(day, kettles=day.kettles[1:]),
    lambda day, random: replace(
        day, batches=_one_changed(day.batches, random, lambda one: replace(one, meat_or_fish=True))
    ),
    lambda day, random: replace(
        day, batches=_one_changed(day.batches, random, lambda one: replace(one, arrival=one.arrival + 30))
    ),
)
