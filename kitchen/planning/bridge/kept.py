"""The rota as people hold it now, and the same drawn up again around those whom the lead keeps.

A published plan names people; since then shifts were taken, swapped and given back. What is drawn up again starts from
what people hold now, read back from the shifts into the plan's own tasks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import import_module
from typing import Any

from pydantic import TypeAdapter

from kitchen.errors import BadHarvestDay, CannotKeep, PlanOutOfDate
from kitchen.planning.bridge import dump_plan, read_plan
from kitchen.planning.bridge.rows import people_of
from kitchen.planning.models import HarvestDay
from kitchen.planning.queries import planned_shifts
from scheduler.errors import CannotBeKept, SchedulerError
from scheduler.interval import Span, merge
from scheduler.plan import Assignment, Plan, Task, TaskKind
from scheduler.problem import Day
from scheduler.rota.keeping import keeping, work_words
from scheduler.rota.naming import may_do
from scheduler.rota.of_plan import hours_among, may_learn
from scheduler.wall_clock import WallClock, wall_clock

NOBODY = ""
"""In the place of a person's id: an open shift."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """A published plan with its rota as people hold it. ``pieces`` says, by the key of each shift, which piece of the
    plan's work it is and who has it; ``by_hand`` are the shifts that changed hands since the plan was published.
    """

    plan: Plan
    pieces: Mapping[int, Assignment]
    by_hand: frozenset[int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What a rota is drawn up around, as a job keeps it: the plan as people held it, whom the lead keeps and whom they
    replace, whether only what must change is to change, and, once it is drawn up, how good it is in words.
    """

    before: Plan
    keep: tuple[Assignment, ...]
    instead_of: tuple[Assignment, ...] = ()
    few_changes: bool = False
    told: tuple[str, ...] = ()


def held(row: HarvestDay, dumped: object) -> Held:
    """The published plan with the people of the day's shifts. ``PlanOutOfDate`` when a shift is none of its work."""
    plan = read_plan(dumped)
    clock = wall_clock(row.date, row.kitchen.time_zone)
    pool = _Pool(plan)
    rows = planned_shifts(row)
    pieces: dict[int, Assignment] = {}
    wanted = [(shift, _as_asked(shift, clock)) for shift in rows]
    for exact in (True, False):  # Whoever has what the plan gave them goes first.
        for shift, one in wanted:
            if shift.pk not in pieces:
                task = pool.take(shift.plan_key or "", shift.task, one, exact=exact)
                if task is not None:
                    pieces[shift.pk] = replace(one, task_id=task)
    if len(pieces) < len(wanted):
        raise PlanOutOfDate(
            "A shift of this day belongs to no task of the published plan.", remedy="Plan the day again."
        )
    named = set(plan.assignments)
    return Held(
        plan=replace(
            plan,
            assignments=tuple(
                sorted(
                    (one for one in pieces.values() if one.person_id != NOBODY),
                    key=lambda one: (one.start, one.task_id, one.person_id, one.end),
                )
            ),
        ),
        pieces=pieces,
        by_hand=frozenset(key for key, one in pieces.items() if one.person_id != NOBODY and one not in named),
    )


class _Pool:
    """The pieces of a published plan's work, each given to one shift."""

    def __init__(self, plan: Plan) -> None:
        self._tasks: defaultdict[tuple[str, str], list[Task]] = defaultdict(list)
        self._left: defaultdict[tuple[str, str], list[Assignment]] = defaultdict(list)
        kinds = {}
        for task in plan.tasks:
            kinds[task.id] = of = (task.load_id, task.kind.value)
            self._tasks[of].append(task)
        for piece in plan.assignments:
            self._left[kinds[piece.task_id]].append(piece)

    def take(self, load: str, kind: str, one: Assignment, *, exact: bool) -> str | None:
        """The task that a shift is of: a piece of the same person and times, else of the same times, else any task
        that it lies in. None when there is none, or when the first is asked for alone.
        """
        mine = self._left[load, kind]
        same = [piece for piece in mine if (piece.start, piece.end) == (one.start, one.end)]
        own = [piece for piece in same if piece.person_id == one.person_id]
        if own or exact:
            return _given(mine, own[0]) if own else None
        around = [piece for piece in mine if piece.start <= one.start and one.end <= piece.end]
        if same or around:
            return _given(mine, (same or around)[0])
        tasks = self._tasks[load, kind]
        return next((task.id for task in tasks if task.start <= one.start and one.end <= task.end), None)


def _given(left: list[Assignment], piece: Assignment) -> str:
    left.remove(piece)
    return piece.task_id


def _as_asked(shift: Any, clock: WallClock) -> Assignment:
    """A shift as a piece of work without its task. Shifts belong to the rota, which stands above planning."""
    return Assignment(
        task_id="",
        person_id=NOBODY if shift.user_id is None else str(shift.user_id),
        start=clock.minute_of(shift.starts_at),
        end=clock.minute_of(shift.ends_at),
    )


def who_may(
    row: HarvestDay, plan: Plan, pieces: Iterable[Assignment]
) -> dict[Assignment, tuple[tuple[str, str], ...]]:
    """For each piece of work the people who could be kept at it, looked at alone: id and name, by name.

    ``BadHarvestDay`` when what is said of them is contradictory.
    """
    try:
        people = sorted(people_of(row), key=lambda one: one.name)
    except SchedulerError as error:
        raise BadHarvestDay(error.message, remedy=error.remedy) from error
    tasks = {task.id: task.kind for task in plan.tasks}
    able = {
        kind: [
            (person.id, person.name, merge(hours_among(people, person)))
            for person in people
            if may_do(person, kind) or (kind is TaskKind.WATCH and may_learn(person))
        ]
        for kind in TaskKind
    }
    return {
        one: tuple(
            (key, name)
            for key, name, hours in able[tasks[one.task_id]]
            if any(span.start <= one.start and one.end <= span.end for span in hours)
        )
        for one in pieces
    }


def around(day: Day, standing: Held, chosen: Mapping[int, int], *, few_changes: bool = False) -> Around:
    """What the lead chose: by the key of a shift, the person who is to be there. Looked at, in the field's words.

    ``CannotKeep`` for what breaks a rule, and for a shift that no longer stands.
    """
    keep, gone = [], []
    for key, user_id in sorted(chosen.items()):
        if key not in standing.pieces:
            raise CannotKeep(
                "A shift that was to be kept no longer stands.",
                remedy="Look at the newest rota, and choose anew.",
            )
        piece = standing.pieces[key]
        keep.append(replace(piece, person_id=str(user_id)))
        if piece.person_id not in (NOBODY, str(user_id)):
            gone.append(piece)
    try:
        keeping(day, standing.plan, keep)
    except CannotBeKept as refusal:
        raise CannotKeep(refusal.message, remedy=refusal.remedy) from refusal
    return Around(before=standing.plan, keep=tuple(keep), instead_of=tuple(gone), few_changes=few_changes)


def draw_up(day: Day, asked: Around, *, seed: int) -> tuple[Plan, Around]:
    """The rota drawn up: the plan with it, and how good it is in words.

    ``BadHarvestDay`` when work is left that nobody was found for, or the loads do not fit the day any more.
    """
    # Loaded when first asked: the compiled search is of no use to a process that only shows plans.
    redraw = import_module("scheduler.redraw").redraw
    words = import_module("scheduler.rota_text").fairness_words
    try:
        drawn = redraw(
            day,
            asked.before,
            asked.keep,
            instead_of=asked.instead_of,
            few_changes=asked.few_changes,
            seed=seed,
        )
    except SchedulerError as error:
        raise BadHarvestDay(error.message, remedy=error.remedy) from error
    made: Plan = drawn.plan
    return made, replace(asked, told=words(drawn))


def dump_around(asked: Around) -> object:
    """What a rota is drawn up around as plain values, to be kept with its job."""
    return _arounds().dump_python(asked, mode="json")


def read_around(dumped: object) -> Around:
    """What was kept."""
    return _arounds().validate_python(dumped)


def is_held_still(asked: Around, standing: Held) -> bool:
    """True when people hold what they held when the rota was asked for."""
    return dump_plan(asked.before) == dump_plan(standing.plan)


def kept_words(day: Day, asked: Around) -> tuple[str, ...]:
    """Who is kept where, in words, in the order of the clock."""
    names = {person.id: person.name for person in day.people}
    tasks = {task.id: task for task in asked.before.tasks}
    return tuple(
        f"{names.get(one.person_id, one.person_id)}: "
        f"{work_words(day, asked.before, tasks[one.task_id], Span(one.start, one.end))}"
        for one in sorted(asked.keep, key=lambda one: (one.start, one.task_id))
    )


@cache
def _arounds() -> TypeAdapter[Around]:
    return TypeAdapter(Around)
