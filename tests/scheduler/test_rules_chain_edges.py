"""The same rules as in ``test_rules_chain``, at their edges: the last minute, the last inch, two of a thing, none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from scheduler.cycle import PhaseKind
from scheduler.interval import Span
from scheduler.judge import judge
from scheduler.plan import Assignment, Load, Phase, Plan, Portion, Stand, Task, TaskKind
from scheduler.problem import Day, Kettle, Policy
from tests.factories.changes import then
from tests.factories.days import (
    BEANS,
    BLUE,
    GREY,
    PEOPLE,
    TOMATOES,
    change_load,
    change_task,
    leave_out,
    make_day,
    make_plan,
    make_plan_on_one_canner,
    restated,
    without_task,
)
from tests.factories.planted import Planted, table

MEAT = replace(BEANS, food_id="meat_strips_cubes", meat_or_fish=True)
LATE = replace(BEANS, id="late", prep_person_minutes_per_jar=2.0)
WIDE = (replace(make_day().tables[0], area_sq_in=1000.0),)
NEEDED_SQ_IN = 100.0 + sum(load.stand.area_sq_in for load in make_plan(make_day()).loads if load.stand)
"""Yesterday's jars and those of both loads."""
ONE_CANNER = make_day(batches=(BEANS, LATE), tables=WIDE)


def with_task(plan: Plan, task: Task, *people: str) -> Plan:
    """One more task, and who is at it."""
    at = tuple(
        Assignment(task_id=task.id, person_id=person, start=task.start, end=task.end) for person in people
    )
    return replace(plan, tasks=(*plan.tasks, task), assignments=(*plan.assignments, *at))


def kettle(start: int, end: int, kettle_id: str = "pot") -> Callable[[Plan], Plan]:
    """The first load's beans, which need none, are kept warm in a kettle as well."""
    task = Task(
        id="L1-kettle",
        kind=TaskKind.KETTLE,
        start=start,
        end=end,
        hands=1,
        load_id="L1",
        batch_id="beans",
        kettle_id=kettle_id,
    )
    return lambda plan: with_task(plan, task, "cleo")


def filled_again(plan: Plan) -> Plan:
    """The first load is filled once more, from half an hour before the heat on to just after the other filling."""
    again = Task(id="L1-again", kind=TaskKind.FILL, start=150, end=176, hands=1, load_id="L1")
    return with_task(plan, again, "cleo")


def two_at_once(plan: Plan) -> Plan:
    """Both loads stand in the first canner at the same minutes."""
    first = plan.load("L1")
    second = change_load(plan, "L2", canner_id="grey", phases=first.phases)
    return change_task(second, "L2-fill", start=165, end=175)


def phases(*spans: tuple[PhaseKind, int, int]) -> Callable[[Plan], Plan]:
    """The first load with these phases alone."""
    made = tuple(Phase(kind=kind, start=start, end=end) for kind, start, end in spans)
    return lambda plan: change_load(plan, "L1", phases=made)


def portions(load: Load, *jars: tuple[str, int]) -> tuple[Portion, ...]:
    """Portions like the load's own, of these batches."""
    return tuple(replace(load.portions[0], batch_id=batch_id, jars=count) for batch_id, count in jars)


@table(
    Planted(
        name="two fillings, of which the first is early",
        rule="S10",
        message="Load L1: the first jar is filled at 08:30 and waits 30 min; the kitchen allows 20.",
        plan=filled_again,
        also=frozenset({"times", "S4", "S16", "hands", "people"}),
    ),
    Planted(
        name="filled at the same minute as another load of the canner",
        rule="S10",
        message="Load L2: filling begins at 08:45, but Old Grey is ready at 10:47.",
        plan=two_at_once,
        also=frozenset(
            {
                "S1",
                "S4",
                "S9",
                "S11",
                "S12",
                "S13",
                "S16",
                "burner",
                "canner",
                "hands",
                "kettle",
                "people",
                "times",
            }
        ),
    ),
    Planted(
        name="meat without times",
        rule="times",
        message="Load L1: it has no times in a canner.",
        made_for={"batches": (MEAT, TOMATOES)},
        plan=phases(),
        also=frozenset({"S4", "S16"}),
    ),
    Planted(
        name="a load out of the canner before it is in",
        rule="times",
        message="Load L1: it has no times in a canner.",
        plan=then(phases((PhaseKind.LOADING, 175, 170)), lambda plan: without_task(plan, "L1-fill")),
        also=frozenset({"S4", "S12", "S16"}),
    ),
    Planted(
        name="a load out of the canner as it is in",
        rule="times",
        message="Load L1: it has no times in a canner.",
        plan=then(phases((PhaseKind.LOADING, 175, 175)), lambda plan: without_task(plan, "L1-fill")),
        also=frozenset({"S4", "S12", "S16"}),
    ),
    Planted(
        name="filled where a load is out before it is in",
        rule="times",
        message="Load L2: it has no times in a canner.",
        plan=lambda plan: change_load(
            without_task(plan, "L2-fill"),
            "L2",
            canner_id="grey",
            phases=(Phase(kind=PhaseKind.LOADING, start=175, end=170),),
        ),
        also=frozenset({"S1", "S4", "S12", "S13", "S16", "canner"}),
    ),
    Planted(
        name="taken from the loading on when nobody fills",
        rule="times",
        message="Load L1: Old Grey is not in service from 08:55 to 10:47.",
        day={"canners": (replace(GREY, service=(Span(176, 600),)), BLUE)},
        plan=lambda plan: without_task(plan, "L1-fill"),
    ),
    Planted(
        name="taken from the loading on when it is filled too late",
        rule="times",
        message="Load L1: Old Grey is not in service from 08:55 to 10:47.",
        day={"canners": (replace(GREY, service=(Span(176, 600),)), BLUE)},
        plan=lambda plan: change_task(plan, "L1-fill", start=176, end=181),
        also=frozenset({"S4", "S16"}),
    ),
    Planted(
        name="nobody fills",
        rule="times",
        message="Load L1: 0 hands fill it; 1 to 2 may.",
        plan=lambda plan: change_task(plan, "L1-fill", hands=0),
        also=frozenset({"hands"}),
    ),
    Planted(
        name="nobody prepares",
        rule="times",
        message="Load L1: nobody is to prepare batch beans.",
        plan=lambda plan: change_task(plan, "L1-prep", hands=0),
        also=frozenset({"hands"}),
    ),
    Planted(
        name="nobody cooks",
        rule="kettle",
        message="Load L2: batch tomatoes cooks 25 min with somebody at it; the plan gives 25.",
        plan=lambda plan: change_task(plan, "L2-kettle", hands=0),
        also=frozenset({"hands"}),
    ),
    Planted(
        name="half a minute of prep a jar left away",
        rule="times",
        message="Load L1: batch beans needs one prep; the plan has 0.",
        day={"batches": (replace(BEANS, prep_person_minutes_per_jar=0.5), TOMATOES)},
        plan=lambda plan: without_task(plan, "L1-prep"),
    ),
    Planted(
        name="a minute of cooking left away",
        rule="kettle",
        message="Load L2: batch tomatoes is cooked once before filling; the plan has 0 kettles for it.",
        day={"batches": (BEANS, replace(TOMATOES, kettle_minutes=1))},
        plan=lambda plan: without_task(plan, "L2-kettle"),
    ),
    Planted(
        name="cooked before the food is there",
        rule="times",
        message="Load L2: its kettle begins at 08:50; batch tomatoes arrives at 08:51.",
        day={"batches": (BEANS, replace(TOMATOES, arrival=171, prep_person_minutes_per_jar=0.0))},
        plan=lambda plan: without_task(plan, "L2-prep"),
    ),
    Planted(
        name="one kettle for two loads from the same minute on",
        rule="kettle",
        message="Tall pot is needed for loads L1 and L2 at 08:50.",
        plan=kettle(170, 180),
        also=frozenset({"burner", "people"}),
    ),
    Planted(
        name="a kettle that is not emptied when its load is filled",
        rule="kettle",
        message="Tall pot is needed for loads L2 and L1 at 09:40.",
        plan=then(lambda plan: change_task(plan, "L2-kettle", end=230), kettle(220, 225)),
        also=frozenset({"burner", "people"}),
    ),
    Planted(
        name="a kettle that is needed again while its load is not filled at all",
        rule="kettle",
        message="Tall pot is needed for loads L2 and L1 at 09:10.",
        plan=then(lambda plan: without_task(plan, "L2-fill"), kettle(190, 194)),
        also=frozenset({"burner", "people", "times"}),
    ),
    Planted(
        name="two loads in a kettle that does not exist",
        rule="kettle",
        message="kettle 'tub' is needed for loads L1 and L2 at 08:50.",
        plan=then(lambda plan: change_task(plan, "L2-kettle", kettle_id="tub"), kettle(155, 165, "tub")),
    ),
    Planted(
        name="a kettle a thimble too small",
        rule="kettle",
        message="Load L2: Tall pot holds 4 qt; batch tomatoes needs 4.",
        day={"kettles": (Kettle(id="pot", name="Tall pot", volume_qt=4.0 - 2e-6, burner_id="small"),)},
    ),
    Planted(
        name="what anybody marked as meat",
        rule="S15",
        message="Load L1: cleaning must follow from 10:47 to 11:02.",
        day={"batches": (replace(BEANS, meat_or_fish=True), TOMATOES)},
    ),
    Planted(
        name="meat beside nobody knows what",
        rule="S15",
        message="Load L1: meat or fish shares the canner with other food.",
        made_for={"batches": (MEAT, TOMATOES)},
        plan=lambda plan: change_load(
            plan, "L1", portions=portions(plan.load("L1"), ("beans", 6), ("peas", 1))
        ),
        also=frozenset({"count", "S12", "S13"}),
    ),
    Planted(
        name="a table a hair too small",
        rule="S12",
        message=f"Oak table has {NEEDED_SQ_IN - 3e-6:g} sq in; at 10:47 its jars need {NEEDED_SQ_IN:.1f}.",
        day={"tables": (replace(make_day().tables[0], area_sq_in=NEEDED_SQ_IN - 3e-6),)},
    ),
    Planted(
        name="room stated too small by more than is rounded",
        rule="S12",
        message="Load L1: its jars need 157.9 sq in, 1 in apart; the plan says 157.9.",
        plan=lambda plan: change_load(plan, "L1", stand=stand_of(plan, -0.06)),
    ),
    Planted(
        name="a task twice",
        rule="count",
        message="2 tasks have the id 'L2-cooling'.",
        plan=lambda plan: replace(plan, tasks=(*plan.tasks, plan.tasks[-2])),
    ),
    Planted(
        name="no jars left out",
        rule="count",
        message="0 jars of batch beans are left out.",
        plan=lambda plan: replace(plan, left_out=(leave_out(BEANS, 0),)),
    ),
    Planted(
        name="no quarts beside the pints",
        rule="count",
        message="Load L2 holds 0 jars of batch beans.",
        plan=lambda plan: change_load(
            plan, "L2", portions=(*plan.load("L2").portions, *portions(plan.load("L2"), ("beans", 0)))
        ),
        also=frozenset({"S1", "S7", "times"}),
    ),
    Planted(
        name="fewer than no quarts beside the pints",
        rule="count",
        message="Load L2 holds -1 jars of batch beans.",
        day={"batches": (replace(BEANS, jars=6), TOMATOES)},
        plan=lambda plan: change_load(
            plan, "L2", portions=(*plan.load("L2").portions, *portions(plan.load("L2"), ("beans", -1)))
        ),
        also=frozenset({"S1", "S7", "times"}),
    ),
)
def test_a_planted_violation_is_found(planted: Planted) -> None:
    found = planted.found()
    assert (planted.rule, planted.message) in found
    assert {rule for rule, _ in found} == {planted.rule} | planted.also


def stand_of(plan: Plan, sq_in: float) -> Stand:
    """The first load's stand, stated larger by so much."""
    stand = plan.load("L1").stand
    assert stand is not None
    return replace(stand, area_sq_in=stand.area_sq_in + sq_in)


@pytest.mark.parametrize(
    "day",
    [
        pytest.param(
            {"tables": (replace(make_day().tables[0], area_sq_in=NEEDED_SQ_IN - 5e-7),)},
            id="a table that is full but for what floats lose",
        ),
        pytest.param(
            {"kettles": (Kettle(id="pot", name="Tall pot", volume_qt=4.0 - 5e-7, burner_id="small"),)},
            id="a kettle that is full but for what floats lose",
        ),
    ],
)
def test_what_floats_lose_is_no_fault(day: dict[str, object]) -> None:
    judged = make_day(**day)
    assert judge(judged, restated(judged, make_plan(make_day()))) == ()


def test_room_may_be_stated_rounded() -> None:
    day = make_day()
    plan = make_plan(day)
    assert judge(day, change_load(plan, "L1", stand=stand_of(plan, 0.04))) == ()


def test_a_day_on_which_nothing_is_canned_needs_no_table() -> None:
    day = make_day(tables=())
    plan = replace(
        make_plan(day),
        loads=(),
        tasks=(),
        assignments=(),
        left_out=tuple(leave_out(batch, batch.jars) for batch in day.batches),
    )
    assert judge(day, restated(day, plan)) == ()


def test_loads_need_not_be_listed_in_the_order_of_the_clock() -> None:
    plan = make_plan_on_one_canner(ONE_CANNER, filled_after=0)
    assert judge(ONE_CANNER, restated(ONE_CANNER, replace(plan, loads=plan.loads[::-1]))) == ()


def test_loads_are_numbered_as_they_begin_however_long_loading_takes() -> None:
    plan = make_plan_on_one_canner(ONE_CANNER, filled_after=-121)
    first, second = plan.loads
    assert first.phases[0].start < second.phases[0].start
    slow = (replace(first.phases[0], end=second.phases[0].end + 1), *first.phases[1:])
    found = judge(ONE_CANNER, restated(ONE_CANNER, change_load(plan, "L1", phases=slow)))
    assert [one.message for one in found if one.rule == "canner"] == [
        "Load L2: Old Grey still holds load L1 at 08:56."
    ]


def test_the_next_load_is_not_loaded_a_minute_before_the_last_jar_is_out() -> None:
    found = judge(ONE_CANNER, make_plan_on_one_canner(ONE_CANNER, filled_after=-11))
    assert ("canner", "Load L2: Old Grey still holds load L1 at 10:46.") in [
        (one.rule, one.message) for one in found
    ]


def test_after_meat_a_load_without_times_is_told_and_no_more() -> None:
    day = replace(ONE_CANNER, batches=(MEAT, LATE))
    plan = change_load(make_plan_on_one_canner(day, filled_after=15), "L2", phases=())
    assert "times" in {one.rule for one in judge(day, restated(day, plan))}


def test_too_many_hands_say_nothing_of_the_minutes() -> None:
    day = make_day()
    plan = change_task(make_plan(day), "L1-fill", hands=3, start=174)
    found = [one.message for one in judge(day, restated(day, plan)) if one.rule == "times"]
    assert found == ["Load L1: 3 hands fill it; 1 to 2 may."]


def test_a_kettle_may_be_used_again_the_minute_its_jars_are_filled() -> None:
    # The first load is filled until 175; the second batch is cooked from then on.
    day = make_day(batches=(BEANS, replace(TOMATOES, kettle_minutes=20)))
    plan = change_task(kettle(155, 165)(make_plan(make_day())), "L2-kettle", start=175)
    assert judge(day, restated(day, plan)) == ()


def two_pots_in_one_load() -> tuple[Day, Plan]:
    """The second load is filled from two batches, each prepared and cooked for itself."""
    more = replace(TOMATOES, id="more", jars=3)
    eve = replace(PEOPLE[1], id="eve", name="Eve Stone")
    pots = (*make_day().kettles, Kettle(id="tub", name="Wide tub", volume_qt=8.0))
    day = make_day(batches=(BEANS, replace(TOMATOES, jars=5), more), kettles=pots, people=(*PEOPLE, eve))
    plan = make_plan(make_day())
    plan = change_load(plan, "L2", portions=portions(plan.load("L2"), ("tomatoes", 5), ("more", 3)))
    prep, cooking = (
        next(task for task in plan.tasks if task.id == f"L2-{kind}") for kind in ("prep", "kettle")
    )
    plan = with_task(plan, replace(prep, id="L2-prep-more", hands=1, batch_id="more"), "eve")
    plan = with_task(plan, replace(cooking, id="L2-kettle-more", batch_id="more", kettle_id="tub"), "eve")
    return day, restated(day, plan)


def test_two_batches_of_one_load_are_prepared_and_cooked_each_for_itself() -> None:
    day, plan = two_pots_in_one_load()
    assert judge(day, plan) == ()


@pytest.mark.parametrize("kind", ["prep", "kettle"])
def test_one_batch_of_a_load_is_not_prepared_or_cooked_by_anothers_work(kind: str) -> None:
    day, plan = two_pots_in_one_load()
    (found,) = judge(day, restated(day, without_task(plan, f"L2-{kind}-more")))
    assert "batch more" in found.message


def test_the_kitchens_minutes_of_rest_after_meat_may_be_any() -> None:
    """The cleaning lasts as long as the kitchen says, to the minute."""
    day = make_day(batches=(MEAT, TOMATOES), policy=Policy(cleaning_minutes=14))
    plan = make_plan(day)
    out = plan.load("L1").jars_out
    task = Task(id="L1-cleaning", kind=TaskKind.CLEANING, start=out, end=out + 14, hands=1, load_id="L1")
    assert judge(day, restated(day, with_task(plan, task, "ben"))) == ()
