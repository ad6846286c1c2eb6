"""Rotas of made-up days drawn up again and again, for judging: other wishes, people missing, others put somewhere.

Planning a day takes far longer than drawing up its rota, so that each day serves for many. What nobody can do falls
away with its load, as in the planner; all that is left must keep the rules about people.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from random import Random

from scheduler.made_up_wishes import with_wishes
from scheduler.plan import Plan
from scheduler.problem import Day
from scheduler.rota.of_plan import OfPlan, assignments_of, rota_of, unfilled
from scheduler.rota.question import Taken
from scheduler.rota.solve import draw_up
from scheduler.rules import people, rota, watching
from scheduler.rules.case import Case, Violation

RULES_OF_ROTAS: tuple[Callable[[Case], Iterator[Violation]], ...] = (
    rota.check_breaks,
    rota.check_shifts,
    rota.check_stations,
    rota.check_company,
    watching.check_watches,
    watching.check_canners_per_person,
    people.check_people,
)
"""The judge's rules about who does what and when; hands at a station are the search's to count."""

_TRIES = 3000
_MOST_PINS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedRota:
    """A rota for the loads that people were found for, and what the judge's rules about people say against it."""

    day: Day
    plan: Plan
    seats: int
    filled: int
    missing: int
    pins: int
    violations: tuple[Violation, ...]


def random_rota(day: Day, plan: Plan, seed: int) -> JudgedRota:
    """One rota of a planned day; the same seed is the same rota. Limits, wishes and people are other than planned."""
    random = Random(f"rota {seed}")  # noqa: S311 - made-up rotas need repeatable numbers, not secret ones.
    asked = with_wishes(_some_missing(day, random), random)
    known = plan.assignments if random.random() < 0.7 else ()
    question = rota_of(asked, plan.loads, plan.tasks, known, hand_overs=random.random() < 0.5)
    question, first = _with_pins(question, random)
    taken = draw_up(question.question, first, first, tries=_TRIES, seed=seed)
    drawn = _written(asked, plan, question, taken)
    case = Case.of(asked, drawn)
    return JudgedRota(
        day=asked,
        plan=drawn,
        seats=len(taken),
        filled=sum(one is not None for one in taken),
        missing=len(day.people) - len(asked.people),
        pins=len(question.question.pinned),
        violations=tuple(found for check in RULES_OF_ROTAS for found in check(case)),
    )


def _some_missing(day: Day, random: Random) -> Day:
    """Up to a third of the people did not come. Nobody waits for them: wishes are drawn anew after that."""
    gone = random.sample(day.people, random.randint(0, len(day.people) // 3))
    here = tuple(replace(one, comes_with=None) for one in day.people if one not in gone)
    return replace(day, people=here)


def _with_pins(rota: OfPlan, random: Random) -> tuple[OfPlan, Taken]:
    """A few seats given beforehand to somebody who is able to take them, whether or not that can be borne."""
    open_to = [number for number, seat in enumerate(rota.question.seats) if seat.able]
    chosen = random.sample(open_to, min(len(open_to), random.randint(0, _MOST_PINS)))
    pinned = {number: random.choice(sorted(rota.question.seats[number].able)) for number in sorted(chosen)}
    first = tuple(pinned.get(number, person) for number, person in enumerate(rota.first))
    return replace(rota, question=replace(rota.question, pinned=tuple(pinned.items()))), first


def _written(day: Day, plan: Plan, rota: OfPlan, taken: Taken) -> Plan:
    """The plan with the rota's people, without the loads that lack any."""
    empty = unfilled(rota, taken)
    tasks = tuple(task for task in plan.tasks if task.load_id not in empty)
    known = {task.id for task in tasks}
    return replace(
        plan,
        loads=tuple(load for load in plan.loads if load.id not in empty),
        tasks=tasks,
        assignments=tuple(one for one in assignments_of(rota, day.people, taken) if one.task_id in known),
    )
