"""The rest of a day under way, planned again: what has begun stays, then as much as can stay where it was.

What the disruption does not touch keeps its place to the minute. Only the loads that lost theirs, and jars without a
load, are searched for; further loads are let go a few at a time while somebody is worse off than the plan before had
told them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from random import Random

from scheduler.errors import BadDay, FloorUnsettled
from scheduler.floor import Floor
from scheduler.judge import judge
from scheduler.plan import Load, Plan, Provenance
from scheduler.problem import Day
from scheduler.replan_floor import settle
from scheduler.replan_rest import EFFORT_AT_FIRST, EFFORT_PER_TRY, Rest, Restored
from scheduler.replan_write import written
from scheduler.search.keep import Keeper, Kept, by_load, in_order
from scheduler.search.resources import Resources

PLANNER = "kept loads 2"
"""Names the way the rest of a day is planned; it changes when the same question would be answered otherwise."""

MOST_MOVED_SHARE = 0.15
"""Of the loads not begun, so many may be moved to bring others forward; more only when they lost their places."""

REPLAN_SECONDS = 1.0
"""For a lead who waits at the stove: the effort, and as wall time the limit of the search."""

TRIES_PER_SECOND = 60
"""Sets of loads let go in a nominal second; below what a small computer does, as in ``search.improve``."""

_MOST_ROUNDS = 4


_TOO_FEW = ("people", "hands")
"""Rules that a rest of the day can break only for want of people."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Question:
    day: Day
    floor: Floor
    before: Plan
    keeper: Keeper


def replan(
    day: Day,
    before: Plan,
    *,
    seconds: float,
    seed: int,
    clock: Callable[[], float],
    should_stop: Callable[[], bool] | None = None,
) -> Plan:
    """The rest of the day after ``before``, from the state of the floor in ``day.floor``.

    Nothing begun is moved. Of the rest: first no jar left out, then no lateness, then as few moved loads as possible.
    ``BadDay`` for a day without a floor, ``FloorUnsettled`` for what a lead must settle first: a canner that nobody
    can watch any more, work on what has begun for which too few are left, a load that comes out after closing.
    """
    floor = day.floor
    if floor is None:
        raise BadDay("Nothing of this day has begun.", remedy="Plan the whole day instead.")
    begun = clock()

    def stop() -> bool:
        return (should_stop is not None and should_stop()) or clock() - begun >= seconds

    question = _Question(day=day, floor=floor, before=before, keeper=Keeper(day, floor.now))
    released: set[str] = set()
    for _ in range(_MOST_ROUNDS):
        plan = _plan(question, released, seconds, seed, stop)
        kept = {load.id for load in before.loads} - {one.load.id for one in floor.begun}
        found = judge(day, plan)
        faulty = {load_id for one in found if (load_id := one.load_id) in kept}
        if faulty <= released:
            break
        # What was planned before no longer holds, for instance because a figure changed: it is planned anew.
        released |= faulty
    short = next((one for one in found if one.rule in _TOO_FEW), None)
    if short is not None:
        raise FloorUnsettled(
            f"There are too few people for what has begun. {short.message}",
            remedy="Ask somebody to stay or to come, enter their hours, and plan again.",
        )
    return plan


def _plan(
    question: _Question, released: set[str], seconds: float, seed: int, stop: Callable[[], bool]
) -> Plan:
    day, floor, before = question.day, question.floor, question.before
    fresh = Resources(day)
    begun = settle(day, floor, before, fresh, question.keeper)
    kept, forced = _keep(question, fresh, released)
    rest = Rest(day, floor, before, fresh, question.keeper)
    restored, tries, reason = _improve(question, rest, kept, forced, seconds, seed, stop)
    made = Provenance(planner=PLANNER, seed=seed, iterations=tries, stopped_because=reason)
    return written(day, before, begun, restored, made)


def _keep(question: _Question, fresh: Resources, released: set[str]) -> tuple[dict[str, Kept], list[Load]]:
    """The loads that still find their places, and those that do not."""
    day, before = question.day, question.before
    told = {one.load.id for one in question.floor.begun} | {one.load_id for one in question.floor.lost}
    tasks = by_load(before.tasks)
    watchers = _watchers(day, before)
    waiting = [
        Kept(load=load, tasks=tasks.get(load.id, ()), watcher=watchers.get(load.id))
        for load in before.loads
        if load.id not in told
    ]
    jars = {
        batch.id: batch.jars - question.floor.in_canners(batch.id) - _held(question, batch.id)
        for batch in day.batches
    }
    kept: dict[str, Kept] = {}
    have = fresh.copy()
    # What needs nothing changed comes first: a prep that has to move must not push another out of its time.
    for exactly in (True, False):
        for one in in_order(waiting):
            fits = (
                one.load.id not in released
                and one.load.id not in kept
                and all(portion.jars <= jars.get(portion.batch_id, 0) for portion in one.load.portions)
            )
            found = question.keeper.fit(have, one, exactly=exactly) if fits else None
            if found is not None:
                kept[one.load.id], have = found
                for portion in one.load.portions:
                    jars[portion.batch_id] -= portion.jars
    return kept, [one.load for one in waiting if one.load.id not in kept]


def _held(question: _Question, batch_id: str) -> int:
    limit = question.day.policy.fill_wait_limit_minutes
    return sum(jars.jars for _, jars in question.floor.held(limit) if jars.batch_id == batch_id)


def _watchers(day: Day, before: Plan) -> dict[str, int]:
    """Who watches each load of a plan, by load id; whoever only learns beside them is left away."""
    numbers = {person.id: number for number, person in enumerate(day.people) if person.may_watch}
    loads = {task.id: task.load_id for task in before.tasks if task.kind == "watch"}
    return {
        loads[one.task_id]: numbers[one.person_id]
        for one in before.assignments
        if one.task_id in loads and one.person_id in numbers
    }


def _improve(
    question: _Question,
    rest: Rest,
    kept: Mapping[str, Kept],
    forced: Sequence[Load],
    seconds: float,
    seed: int,
    stop: Callable[[], bool],
) -> tuple[Restored, int, str]:
    """Let a few more loads go at a time, and keep what makes the day better.

    Where no more may move, another choice is tried from the beginning.
    """
    random = Random(seed)  # noqa: S311 - a search needs repeatable numbers, not secret ones.
    first = best = rest.restore(kept, forced, seed, effort_per_batch=EFFORT_AT_FIRST)
    limit = max(len(forced), int(MOST_MOVED_SHARE * (len(kept) + len(forced))))
    least = max(1, int(seconds * TRIES_PER_SECOND))
    tries = 0
    while best.worse_off and tries < least and best.kept:
        if stop():
            return best, tries, "time limit"
        tries += 1
        base = best if len(best.moved) < limit else first
        if len(base.moved) >= limit:
            return best, tries, "no more loads may move"
        names = _to_release(random, rest, base, limit - len(base.moved))
        let_go = [*base.released, *(base.kept[name].load for name in names)]
        still = {name: one for name, one in base.kept.items() if name not in names}
        found = rest.restore(still, let_go, seed + tries, effort_per_batch=EFFORT_PER_TRY)
        if found.score < best.score and len(found.moved) <= limit:
            best = found
    return best, tries, "effort spent" if best.worse_off else "nobody is worse off"


def _to_release(random: Random, rest: Rest, best: Restored, room: int) -> set[str]:
    """A few loads that stand in the way of a batch that is worse off: on a canner it could use, near its times."""
    batch_id = random.choice(sorted(best.worse_off))
    count = min(room, 1 + random.randrange(3))
    near = sorted(
        best.kept.values(),
        key=lambda one: (rest.in_the_way(one, batch_id) * (0.5 + random.random()), one.load.id),
    )
    return {one.load.id for one in near[:count]}
