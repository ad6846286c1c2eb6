"""The rest of a day planned again: valid, nothing begun moved, little else, and nothing decided that is the lead's."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from scheduler.cycle import PhaseKind
from scheduler.disruptions import Disruption, disrupt
from scheduler.errors import BadDay, FloorUnsettled
from scheduler.floor import Floor
from scheduler.floor_record import Record, lost_load
from scheduler.generator import random_day
from scheduler.interval import Span
from scheduler.judge import judge
from scheduler.plan import Plan
from scheduler.planner import plan
from scheduler.problem import Day, Person, Policy
from scheduler.replan import MOST_MOVED_SHARE, replan
from scheduler.score import levels_of
from tests.factories.days import BLUE, GREY, PEOPLE, make_day, make_plan
from tests.factories.floors import NOW, ends_by, floor_at, under_way

SEEDS = (1, 2, 3)
ADA, BEN, CLEO, DINA = PEOPLE


@cache
def planned(seed: int) -> tuple[Day, Plan]:
    """A made-up day of 20 batches with a plan for it."""
    day = random_day(seed, "M")
    return day, plan(day, seconds=0.2, seed=seed, clock=lambda: 0.0)


def again(day: Day, before: Plan, seed: int = 1) -> Plan:
    """The rest planned again, without a look at the clock."""
    return replan(day, before, seconds=0.2, seed=seed, clock=lambda: 0.0)


def places(one: Plan) -> dict[str, tuple[str, int]]:
    """Where and when each load is."""
    return {load.id: (load.canner_id, load.phases[0].start) for load in one.loads}


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("disruption", Disruption)
def test_every_rule_is_kept_and_nothing_begun_is_moved(disruption: Disruption, seed: int) -> None:
    day, before = planned(seed)
    disrupted = disrupt(day, before, disruption, seed)
    after = again(disrupted.day, before)
    assert judge(disrupted.day, after) == (), disrupted.what
    assert disrupted.day.floor is not None
    for begun in disrupted.day.floor.begun:
        assert after.load(begun.load.id) == begun.load


@pytest.mark.parametrize("seed", SEEDS)
def test_nothing_and_nobody_moves_while_all_runs_as_planned(seed: int) -> None:
    day, before = planned(seed)
    disrupted = disrupt(day, before, Disruption.AS_PLANNED, seed)
    after = again(disrupted.day, before)
    assert places(after) == places(before)
    assert {task.id: task for task in after.tasks} == {task.id: task for task in before.tasks}
    assert set(after.assignments) == set(before.assignments)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("disruption", [one for one in Disruption if one is not Disruption.CANNER_FAILED])
def test_no_more_loads_move_than_may(disruption: Disruption, seed: int) -> None:
    day, before = planned(seed)
    disrupted = disrupt(day, before, disruption, seed)
    after = again(disrupted.day, before)
    assert disrupted.day.floor is not None
    begun = {one.load.id for one in disrupted.day.floor.begun}
    waiting = {name: place for name, place in places(before).items() if name not in begun}
    now = places(after)
    moved = [name for name, place in waiting.items() if now.get(name) != place]
    # A load must go when its own canner is late; nothing else pushes more of them than the share that may move.
    assert len(moved) <= MOST_MOVED_SHARE * len(waiting) + 2


def test_the_same_question_gets_the_same_answer() -> None:
    day, before = planned(1)
    disrupted = disrupt(day, before, Disruption.CANNER_FAILED, 1)
    assert again(disrupted.day, before) == again(disrupted.day, before)


def test_the_levels_are_those_reached_and_the_bound_is_what_has_begun() -> None:
    day, before = planned(2)
    disrupted = disrupt(day, before, Disruption.DELAYED, 2)
    after = again(disrupted.day, before)
    values = levels_of(disrupted.day, after.loads, after.tasks, after.left_out)
    assert tuple(level.value for level in after.levels) == values
    assert all(level.bound_name == "what has begun" for level in after.levels)


def test_a_learner_beside_a_watch_does_not_count_as_its_watcher() -> None:
    """Whoever learns is named after the trained person; the trained one goes on."""
    learner = Person(id="zoe", name="Zoe Reed", hours=ADA.hours, learning=True)
    other = Person(id="eve", name="Eve Stone", hours=ADA.hours, trained=True)
    day = under_way(people=(other, *PEOPLE, learner))
    before = make_plan(make_day())
    watches = [one for one in before.assignments if one.task_id.endswith("-watch")]
    beside = tuple(replace(one, person_id="zoe", start=one.start + 1) for one in watches)
    after = again(day, replace(before, assignments=(*before.assignments, *beside)))
    assert judge(day, after) == ()
    ahead = [one for one in after.assignments if one.task_id.endswith("-watch") and one.end > NOW]
    assert {one.person_id for one in ahead} == {"ada"}


def test_nobody_works_on_once_whom_they_come_with_has_gone() -> None:
    gone = replace(BEN, hours=(Span(120, NOW),))
    cleo = replace(CLEO, comes_with="ben")
    eve = Person(id="eve", name="Eve Stone", hours=ADA.hours)
    day = under_way(people=(ADA, gone, cleo, DINA, eve))
    after = again(day, make_plan(make_day()))
    assert judge(day, after) == ()
    assert "cleo" not in {one.person_id for one in after.assignments if one.end > NOW}


def test_a_cancelled_batch_leaves_the_plan_with_its_load() -> None:
    day = under_way()
    without = replace(day, batches=day.batches[:1])
    after = again(without, make_plan(make_day()))
    assert [load.id for load in after.loads] == ["L1"]
    assert judge(without, after) == ()


def test_food_that_is_prepared_is_not_prepared_again() -> None:
    # The tomatoes are ready since 163; their kettle has to begin anew, for their canner's place is gone.
    day = under_way(now=169)
    closed = tuple(
        replace(canner, service=(Span(240, 600),)) if canner.id == "blue" else canner
        for canner in day.canners
    )
    moved = replace(day, canners=closed)
    after = again(moved, make_plan(make_day()))
    assert judge(moved, after) == ()
    assert {task.kind for task in after.tasks if task.batch_id == "tomatoes"} == {"kettle"}
    assert next(load for load in after.loads if load.canner_id == "blue").id == "L2"


def test_a_day_on_which_nothing_has_begun_is_refused() -> None:
    with pytest.raises(BadDay, match="Nothing of this day has begun"):
        again(make_day(), make_plan(make_day()))


def test_a_day_under_way_is_not_planned_as_a_whole() -> None:
    with pytest.raises(BadDay, match="This day is under way"):
        plan(under_way(), seconds=0.1, seed=1, clock=lambda: 0.0)


def test_a_watch_that_nobody_can_take_over_is_the_leads_to_settle() -> None:
    day = under_way(people=(replace(ADA, hours=(Span(120, NOW),)), BEN, CLEO, DINA))
    with pytest.raises(
        FloorUnsettled, match=r"Nobody trained is free to watch load L1 from 09:10 until .* at 09:52"
    ):
        again(day, make_plan(make_day()))


def test_a_watcher_with_too_many_canners_hands_the_newest_over_at_once() -> None:
    eve = Person(id="eve", name="Eve Stone", hours=ADA.hours, trained=True)
    # Both canners are hot and Ada is at both, which the kitchen no longer allows.
    day = under_way(215, people=(*PEOPLE, eve), policy=Policy(canners_per_person=1))
    after = again(day, make_plan(make_day()))
    assert judge(day, after) == ()
    watches = {
        (one.task_id, one.person_id, one.start, one.end)
        for one in after.assignments
        if "watch" in one.task_id
    }
    assert watches == {
        ("L1-watch", "ada", 180, 232), ("L2-watch", "ada", 210, 215), ("L2-watch", "eve", 215, 270),
    }  # fmt: skip


def test_a_load_that_would_come_out_after_closing_is_the_leads_to_settle() -> None:
    day = under_way(opening=(Span(120, 280),))
    with pytest.raises(FloorUnsettled, match=r"out of its canner at 10:47.*after the kitchen closes"):
        again(day, make_plan(make_day()))


def test_jars_that_nobody_would_lift_out_are_the_leads_to_settle() -> None:
    gone = tuple(replace(one, hours=(Span(120, 280),)) for one in PEOPLE)
    with pytest.raises(FloorUnsettled, match="Nobody is there for cooling after load L1"):
        again(under_way(people=gone), make_plan(make_day()))


def test_lost_jars_wait_for_the_lead_and_the_plan_says_so() -> None:
    before = make_plan(make_day())
    lost = lost_load(before, "L1", "Old Grey failed.", is_fill_known=False)
    day = make_day(floor=Floor(now=NOW, prepared=floor_at(NOW).prepared, lost=(lost,)))
    after = again(day, before)
    assert [(none.code, none.batch_id, none.jars) for none in after.left_out] == [("on-hold", "beans", 7)]
    assert "the lead decides" in after.left_out[0].remedy
    assert judge(day, after) == ()


def test_a_held_load_is_named_in_the_warnings_and_is_no_fault_of_the_plan() -> None:
    before = make_plan(make_day())
    ended = {**ends_by(before.load("L1"), 240), PhaseKind.PROCESS: 225}
    held = Record(ended=ended, deviation="Processed 18 of 25 minutes (rule S6).", on_hold=True)
    day = under_way(240, {"L1": held})
    after = again(day, before)
    assert judge(day, after) == ()
    assert "Load L1 of Old Grey is on hold: Processed 18 of 25 minutes (rule S6)." in after.warnings


def test_jars_that_find_no_place_any_more_are_left_out_with_what_a_lead_can_do_now() -> None:
    closed = (replace(GREY, service=(Span(120, 300),)), replace(BLUE, service=(Span(120, 200),)))
    day = under_way(NOW, canners=closed)
    after = again(day, make_plan(make_day()))
    assert judge(day, after) == ()
    assert [(none.batch_id, none.jars) for none in after.left_out] == [("tomatoes", 8)]
    assert "What-if" not in after.left_out[0].remedy
    assert after.left_out[0].remedy.startswith("Open longer")
