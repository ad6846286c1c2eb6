"""The rota of a plan drawn up anew around what a lead keeps; loads, times and tasks stay as they are."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial

from scheduler.digest import day_digest
from scheduler.errors import CannotBeKept, PlanNotOfDay, RotaNotWhole
from scheduler.interval import Span, merge
from scheduler.judge import judge
from scheduler.plan import Assignment, Level, Plan
from scheduler.problem import Day
from scheduler.rota.anneal import KNOWN_WEIGHTS, STILL_WEIGHTS
from scheduler.rota.around import keeps_all, seats_around
from scheduler.rota.bound import Measured, measure
from scheduler.rota.canner_room import drawn_with_room
from scheduler.rota.keeping import Keeping, keeping, work_words
from scheduler.rota.naming import STATION_OF
from scheduler.rota.of_plan import OfPlan, assignments_of, unfilled
from scheduler.rota.question import Taken
from scheduler.rota.solve import draw_up
from scheduler.score import LEVELS, levels_of
from scheduler.search.bounds import bounds_of
from scheduler.search.options import options_of

REDRAW_SECONDS = 1.0
"""The usual effort: a rota of a full day is hardly better after more."""

TRIES_PER_SECOND = 30_000
"""Changes tried for a second of effort: a measure of work that is the same on every machine."""

_OF_PEOPLE = frozenset({"S9", "people", "hands", "breaks", "shift", "station", "company"})
"""Rules of the judge about who does what; all others are about what a rota leaves as it is."""
_DRAWN = "; rota drawn up again"
_MOST_TOLD = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """Of the minutes worked by people who said where they like to be, how many are there."""

    met_minutes: int
    of_minutes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Redrawn:
    """A plan with a new rota. ``kept`` is what the lead kept, ``measured`` how even it is against what is proven with
    that kept. ``spread_before`` is the same figure of the rota before, of which ``unfilled_before`` minutes had nobody;
    ``changed_minutes`` of work have other people than before.
    """

    plan: Plan
    kept: tuple[Assignment, ...]
    measured: Measured
    spread_before: float
    unfilled_before: int
    changed_minutes: int
    wishes: Wishes


def redraw(
    day: Day,
    plan: Plan,
    keep: Iterable[Assignment],
    *,
    instead_of: Collection[Assignment] = (),
    few_changes: bool = False,
    seconds: float = REDRAW_SECONDS,
    seed: int = 1,
) -> Redrawn:
    """The same plan with its rota drawn up anew around ``keep``: fewest unfilled, fair, as liked, few changes.

    ``plan`` holds the rota that people know; people of the day may have changed since it was made. ``instead_of`` are
    pieces of its work that others in ``keep`` have now: where a task has several hands, these go. With ``few_changes``
    nobody is moved only to share the work out more fairly. ``seconds`` is an effort, counted in changes tried, so that
    the same question and seed give the same rota on every machine.

    ``CannotBeKept`` when something kept breaks a rule, ``RotaNotWhole`` when work is left that nobody was found for,
    ``PlanNotOfDay`` when the loads do not keep the rules of this day any more or something of it has begun.
    """
    _check_not_begun(day)
    kept = keeping(day, plan, keep)
    tries = int(seconds * TRIES_PER_SECOND)
    standing = replace(plan, assignments=tuple(one for one in plan.assignments if one not in instead_of))
    rota, taken = _drawn(day, standing, kept, _Effort(tries, seed, few_changes))
    after = replace(
        plan,
        day_digest=day_digest(day),
        assignments=assignments_of(rota, day.people, taken),
        levels=_levels(day, plan),
        provenance=replace(
            plan.provenance,
            stopped_because=f"{plan.provenance.stopped_because.split(_DRAWN)[0]}{_DRAWN} around "
            f"{len(kept.every)} kept, seed {seed}, {tries} tries",
        ),
    )
    _check_judged(day, after)
    known = seats_around(day, plan, Keeping(at_work=(), beside=()))
    before = measure(known.question, known.first)
    return Redrawn(
        plan=after,
        kept=kept.every,
        measured=measure(rota.question, taken),
        spread_before=before.spread_minutes,
        unfilled_before=before.unfilled_minutes,
        changed_minutes=_changed(plan, after),
        wishes=wishes_of(day, after),
    )


def whole(plan: Plan, task_id: str, person_id: str) -> tuple[Assignment, ...]:
    """What it means to keep somebody at a task: what the person has of it in the plan, else all of it.

    ``CannotBeKept`` when the plan has no such task.
    """
    task = next((one for one in plan.tasks if one.id == task_id), None)
    if task is None:
        raise CannotBeKept(
            f"The plan has no task {task_id!r}.", remedy="Look up the task's name in the plan."
        )
    mine = tuple(one for one in plan.assignments if (one.task_id, one.person_id) == (task_id, person_id))
    return mine or (Assignment(task_id=task_id, person_id=person_id, start=task.start, end=task.end),)


def wishes_of(day: Day, plan: Plan) -> Wishes:
    """How far a plan puts people where they like to be."""
    likes = {person.id: person.likes for person in day.people if person.likes}
    at = {task.id: STATION_OF[task.kind] for task in plan.tasks}
    mine = [one for one in plan.assignments if one.person_id in likes]
    return Wishes(
        met_minutes=sum(one.end - one.start for one in mine if at[one.task_id] in likes[one.person_id]),
        of_minutes=sum(one.end - one.start for one in mine),
    )


def _check_not_begun(day: Day) -> None:
    if day.floor is not None:
        raise PlanNotOfDay(
            "This day is under way: who does what has begun.", remedy="Plan the rest of the day again."
        )


@dataclass(frozen=True, slots=True)
class _Effort:
    """How hard is looked, and whether only what must change is to change."""

    tries: int
    seed: int
    few_changes: bool


def _drawn(day: Day, plan: Plan, kept: Keeping, effort: _Effort) -> tuple[OfPlan, Taken]:
    """The first rota that is whole: near the one that people know, else further from it, else of finer seats."""
    failed: list[tuple[bool, int, list[str]]] = []
    for fine, calm in ((False, True), (False, False), (True, False)):
        rota = seats_around(day, plan, kept, fine=fine)
        taken = drawn_with_room(day, rota, partial(_once, effort, calm=calm))
        missing = sum(unfilled(rota, taken).values())
        if keeps_all(rota, taken) and not missing:
            return rota, taken
        failed.append((not keeps_all(rota, taken), missing, list(_left(day, plan, rota, taken))))
    _, _, left = min(failed)
    told = "; ".join(left[:_MOST_TOLD]) + (
        f"; and {len(left) - _MOST_TOLD} more" if left[_MOST_TOLD:] else ""
    )
    raise RotaNotWhole(
        f"Nobody was found for {told}.",
        remedy="Keep fewer people where they are, ask another helper for that time, or plan the day again."
        if kept.every
        else "Ask another helper for that time, or plan the day again.",
    )


def _once(effort: _Effort, rota: OfPlan, *, calm: bool) -> Taken:
    return draw_up(
        rota.question,
        rota.first,
        rota.first,
        tries=effort.tries,
        seed=effort.seed,
        prices=STILL_WEIGHTS if effort.few_changes else KNOWN_WEIGHTS,
        calm=calm,
    )


def _left(day: Day, plan: Plan, rota: OfPlan, taken: Taken) -> Iterator[str]:
    """The work that nobody has, in words: pieces of a task that touch are one. Kept work that was lost counts."""
    pinned = dict(rota.question.pinned)
    spans: dict[str, list[Span]] = {}
    tasks = {task.id: task for task, _ in rota.tasks}
    for number, seat in enumerate(rota.question.seats):
        lost = number in pinned and taken[number] != pinned[number]
        if lost or (taken[number] is None and not seat.optional):
            spans.setdefault(rota.tasks[number][0].id, []).append(Span(seat.start, seat.end))
    for task_id, pieces in spans.items():
        for span in merge(pieces):
            yield work_words(day, plan, tasks[task_id], span)


def _changed(before: Plan, after: Plan) -> int:
    """Minutes of work that have another person now."""
    return sum(
        one.end
        - one.start
        - sum(
            max(0, min(one.end, old.end) - max(one.start, old.start))
            for old in before.assignments
            if (old.task_id, old.person_id) == (one.task_id, one.person_id)
        )
        for one in after.assignments
    )


def _levels(day: Day, plan: Plan) -> tuple[Level, ...]:
    """The plan's levels; on a day that has changed since, with bounds that hold for it now."""
    if plan.day_digest == day_digest(day) or len(plan.levels) != len(LEVELS):
        return plan.levels  # What is no list of levels at all is the judge's to refuse.
    values = levels_of(day, plan.loads, plan.tasks, plan.left_out)
    bounds = bounds_of(day, options_of(day), values[0])
    return tuple(
        replace(level, value=value, bound=min(bound.value, value), bound_name=bound.name)
        for level, value, bound in zip(plan.levels, values, bounds, strict=True)
    )


def _check_judged(day: Day, plan: Plan) -> None:
    for violation in judge(day, plan):
        if violation.rule in _OF_PEOPLE:
            raise RotaNotWhole(
                f"A rota around these breaks a rule: {violation.message}",
                remedy="Keep fewer people where they are, or plan the day again.",
            )
        raise PlanNotOfDay(
            f"The plan does not fit this day any more: {violation.message}", remedy="Plan the day again."
        )
