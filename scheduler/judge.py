"""The judge: whether a plan is safe and true, worked out anew from the day and the plan alone.

It believes nothing the plan says of itself, and it shares no code with the search that made the plan.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from scheduler.digest import day_digest
from scheduler.plan import Plan
from scheduler.problem import Day
from scheduler.rules import chain, floor, jars, people, phases, process, rota, standing, vessel, watching
from scheduler.rules.case import Case, Violation
from scheduler.score import LEVELS, levels_of

__all__ = ["RULES", "Violation", "judge"]


def judge(day: Day, plan: Plan) -> tuple[Violation, ...]:
    """Everything in the plan that breaks a rule; empty when the kitchen could run it.

    Rules S1 to S17 go by their numbers, the others by a word. Whatever the plan holds, even what no planner
    would write, comes back as a violation and never as an error.
    """
    case = Case.of(day, plan)
    open_case = case.without_closed()
    return tuple(
        dict.fromkeys(
            violation
            for check in RULES
            for violation in check(open_case if check in ABOUT_CONTENTS else case)
        )
    )


def check_digest(case: Case) -> Iterator[Violation]:
    """ "digest": the plan answers this day and no other."""
    if case.plan.day_digest != day_digest(case.day):
        yield Violation(
            rule="digest", message="The plan was made for another day, or the day has changed since."
        )


def check_levels(case: Case) -> Iterator[Violation]:
    """ "levels": the values it states are those it reaches, and no bound lies above its value."""
    plan = case.plan
    names = tuple(name for name, _ in LEVELS)
    if tuple(level.name for level in plan.levels) != names:
        yield Violation(rule="levels", message=f"The levels must be {', '.join(names)}.")
        return
    reached = levels_of(case.day, plan.loads, plan.tasks, plan.left_out)
    for level, value in zip(plan.levels, reached, strict=True):
        if level.value != value:
            yield Violation(
                rule="levels", message=f"The plan states {level.value} for {level.name}; it reaches {value}."
            )
        if level.bound > level.value:
            yield Violation(
                rule="levels",
                message=f"The bound {level.bound} for {level.name} lies above the value {level.value}.",
            )


RULES: tuple[Callable[[Case], Iterator[Violation]], ...] = (
    process.check_published,
    process.check_one_process,
    process.check_whole_line,
    phases.check_phases,
    phases.check_cool_down,
    phases.check_interruptions,
    process.check_acid_and_pressure,
    vessel.check_gauges,
    watching.check_watches,
    watching.check_canners_per_person,
    chain.check_waiting,
    standing.check_calls,
    standing.check_stands,
    vessel.check_fit,
    process.check_jars_made_ready,
    chain.check_meat_and_fish,
    phases.check_deviations,
    jars.check_caution,
    chain.check_times,
    vessel.check_canners,
    vessel.check_burners,
    chain.check_kettles,
    people.check_hands,
    people.check_people,
    rota.check_breaks,
    rota.check_shifts,
    rota.check_stations,
    rota.check_company,
    jars.check_count,
    floor.check_floor,
    check_levels,
    check_digest,
)
"""Every check, the safety rules first."""

ABOUT_CONTENTS = (
    process.check_published,
    process.check_one_process,
    process.check_whole_line,
    process.check_acid_and_pressure,
    process.check_jars_made_ready,
    vessel.check_gauges,
    vessel.check_fit,
)
"""What is in a canner and how it was run: of jars that are on hold the record has said it already (rule S16)."""
