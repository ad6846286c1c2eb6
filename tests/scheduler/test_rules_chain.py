"""Rules S10, S11, S12, S15, S17, "times", "kettle" and "count": a planted violation of each, and what is allowed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from scheduler.interval import Span
from scheduler.judge import Violation, judge
from scheduler.plan import Assignment, Plan, Task, TaskKind
from scheduler.problem import CoolingTable, Kettle, Policy
from tests.factories.days import (
    BEANS,
    TOMATOES,
    change_load,
    change_portion,
    change_task,
    leave_out,
    make_day,
    make_plan,
    make_plan_on_one_canner,
    restated,
    without_task,
)
from tests.factories.planted import Planted, table

STEW = replace(BEANS, food_id="meat_strips_cubes", meat_or_fish=True)
UNMARKED = replace(STEW, meat_or_fish=False)
PEOPLE_TOO = frozenset({"people"})


def stand(**changes: object) -> Callable[[Plan], Plan]:
    """The first load's stand, changed."""

    def change(plan: Plan) -> Plan:
        before = plan.load("L1").stand
        assert before is not None
        return change_load(plan, "L1", stand=replace(before, **changes))  # type: ignore[arg-type]

    return change


def cleaned(plan: Plan) -> Plan:
    """The first load's canner is cleaned by Ben, as it must be after meat."""
    out = plan.load("L1").jars_out
    task = Task(id="L1-cleaning", kind=TaskKind.CLEANING, start=out, end=out + 15, hands=1, load_id="L1")
    at = Assignment(task_id=task.id, person_id="ben", start=out, end=out + 15)
    return replace(plan, tasks=(*plan.tasks, task), assignments=(*plan.assignments, at))


def with_beans_beside(plan: Plan) -> Plan:
    """One jar of the meat load is another batch's beans."""
    meat = plan.load("L1").portions[0]
    beans = replace(meat, batch_id="side", jars=1)
    return cleaned(change_load(plan, "L1", portions=(replace(meat, jars=6), beans)))


@table(
    Planted(
        name="filled jars wait too long",
        rule="S10",
        message="Load L1: the first jar is filled at 08:45 and waits 15 min; the kitchen allows 14.",
        day={"policy": Policy(fill_wait_limit_minutes=14)},
        also=frozenset({"S10"}),
    ),
    Planted(
        name="filled while the canner is taken",
        rule="S10",
        message="Load L2: filling begins at 09:15, but Old Grey is ready at 10:47.",
        plan=lambda plan: change_load(plan, "L2", canner_id="grey", number=2),
        also=frozenset({"S1", "S4", "S13", "S16", "canner", "burner"}),
    ),
    Planted(
        name="first call before 12 hours",
        rule="S11",
        message="Load L1: the first call is at 22:47; the plan says 22:46.",
        plan=lambda plan: change_load(plan, "L1", first_call=1006),
    ),
    Planted(
        name="seal check late",
        rule="S11",
        message="Load L1: the seal check is at 10:47 on 2026-09-13; the plan says 10:48 on 2026-09-13.",
        plan=lambda plan: change_load(plan, "L1", seal_check=1728),
    ),
    Planted(
        name="24 hours counted from the table, not from the process",
        rule="S11",
        message="Load L1: the last start of a reprocess is at 09:52 on 2026-09-13; the plan says 10:47 on 2026-09-13.",
        plan=lambda plan: change_load(plan, "L1", reprocess_by=1727),
    ),
    Planted(
        name="no table",
        rule="S12",
        message="Load L1: its jars have no cooling table.",
        plan=lambda plan: change_load(plan, "L1", stand=None),
    ),
    Planted(
        name="a table that does not exist",
        rule="S12",
        message="Load L1: there is no cooling table 'elm'.",
        plan=stand(table_id="elm"),
    ),
    Planted(
        name="jars in the air",
        rule="S12",
        message="Load L1: its jars are out at 10:47, but stand from 10:50.",
        plan=stand(start=290, end=1730),
    ),
    Planted(
        name="moved too early",
        rule="S12",
        message="Load L1: its jars stand 1439 min; the kitchen lets them stand 1440.",
        plan=stand(end=1726),
    ),
    Planted(
        name="jars too close",
        rule="S12",
        message="Load L1: its jars need 157.9 sq in, 1 in apart; the plan says 98.4.",
        plan=stand(area_sq_in=98.4),
    ),
    Planted(
        name="a full table",
        rule="S12",
        message="Oak table has 401 sq in; at 10:47 its jars need 401.8.",
        day={"tables": (replace(make_day().tables[0], area_sq_in=401.0),)},
    ),
    Planted(
        name="no table listed and nobody told",
        rule="S12",
        message="No cooling table is listed, and no warning says so.",
        day={"tables": ()},
        plan=lambda plan: change_load(change_load(plan, "L1", stand=None), "L2", stand=None),
    ),
    Planted(
        name="meat not cleaned up after",
        rule="S15",
        message="Load L1: cleaning must follow from 11:52 to 12:07.",
        made_for={"batches": (STEW, TOMATOES)},
    ),
    Planted(
        name="meat that nobody marked as meat",
        rule="S15",
        message="Load L1: cleaning must follow from 11:52 to 12:07.",
        made_for={"batches": (UNMARKED, TOMATOES)},
    ),
    Planted(
        name="meat after the cut-off",
        rule="S15",
        message="Load L1: meat or fish is out at 11:52; the kitchen's cut-off is 11:51.",
        made_for={"batches": (STEW, TOMATOES), "policy": Policy(meat_cut_off=351)},
        plan=cleaned,
    ),
    Planted(
        name="meat beside beans",
        rule="S15",
        message="Load L1: meat or fish shares the canner with other food.",
        made_for={
            "batches": (
                replace(STEW, jars=7),
                TOMATOES,
                replace(BEANS, id="side", jars=1, prep_person_minutes_per_jar=0.0),
            )
        },
        plan=with_beans_beside,
        also=frozenset({"S1", "count"}),
    ),
    Planted(
        name="another caution",
        rule="S17",
        message="The plan does not carry the caution.",
        plan=lambda plan: replace(plan, caution=plan.caution.replace("never taste it", "taste it")),
    ),
    Planted(
        name="before opening",
        rule="times",
        message="Load L1: its prep from 08:00 to 08:35 is outside opening hours.",
        day={"opening": (Span(121, 600),)},
    ),
    Planted(
        name="the canner after closing",
        rule="times",
        message="Load L1: it takes the canner from 08:45 to 10:47, outside opening hours.",
        day={"opening": (Span(120, 284), Span(286, 600))},
    ),
    Planted(
        name="prep before the food is there",
        rule="times",
        message="Load L1: its prep begins at 08:00; batch beans arrives at 08:01.",
        day={"batches": (replace(BEANS, arrival=121), TOMATOES)},
    ),
    Planted(
        name="filled before the food is there",
        rule="times",
        message="Load L1: its fill begins at 08:45; batch beans arrives at 08:46.",
        day={"batches": (replace(BEANS, arrival=166, prep_person_minutes_per_jar=0.0), TOMATOES)},
    ),
    Planted(
        name="filled while still in prep",
        rule="times",
        message="Load L1: batch beans is still in prep when its fill begins at 08:45.",
        plan=lambda plan: change_task(plan, "L1-prep", end=166),
        also=PEOPLE_TOO,
    ),
    Planted(
        name="cooked while still in prep",
        rule="times",
        message="Load L2: batch tomatoes is still in prep when its kettle begins at 08:50.",
        plan=lambda plan: change_task(plan, "L2-prep", end=171),
        also=PEOPLE_TOO,
    ),
    Planted(
        name="prep too short",
        rule="times",
        message="Load L1: prep of batch beans takes 2 hands 35 min; the plan gives 34.",
        plan=lambda plan: change_task(plan, "L1-prep", end=154),
    ),
    Planted(
        name="no prep",
        rule="times",
        message="Load L1: batch beans needs one prep; the plan has 0.",
        plan=lambda plan: without_task(plan, "L1-prep"),
    ),
    Planted(
        name="filled too fast",
        rule="times",
        message="Load L1: filling takes 2 hands at least 5 min; the plan gives 4.",
        plan=lambda plan: change_task(plan, "L1-fill", start=171),
    ),
    Planted(
        name="more hands than may fill",
        rule="times",
        message="Load L1: 2 hands fill it; 1 to 1 may.",
        day={"policy": Policy(fill_hands=1)},
    ),
    Planted(
        name="not filled",
        rule="times",
        message="Load L1: it must be filled once; the plan has 0 fillings.",
        plan=lambda plan: without_task(plan, "L1-fill"),
    ),
    Planted(
        name="nobody lifts the jars out",
        rule="times",
        message="Load L1: nobody is to lift the jars out from 10:42 to 10:47.",
        plan=lambda plan: without_task(plan, "L1-cooling"),
    ),
    Planted(
        name="a task of no load",
        rule="times",
        message="Task L1-cooling belongs to no load ('L9').",
        plan=lambda plan: change_task(plan, "L1-cooling", load_id="L9"),
    ),
    Planted(
        name="a task that runs backwards",
        rule="times",
        message="Task L1-cooling ends at 10:40, not after it starts.",
        plan=lambda plan: change_task(plan, "L1-cooling", end=280),
        also=PEOPLE_TOO,
    ),
    Planted(
        name="a task without time",
        rule="times",
        message="Task L1-cooling ends at 10:42, not after it starts.",
        plan=lambda plan: change_task(plan, "L1-cooling", end=282),
        also=PEOPLE_TOO,
    ),
    Planted(
        name="no times at all",
        rule="times",
        message="Load L1: it has no times in a canner.",
        plan=lambda plan: change_load(plan, "L1", phases=()),
        also=frozenset({"S4", "S16"}),
    ),
    Planted(
        name="not cooked",
        rule="kettle",
        message="Load L2: batch tomatoes is cooked once before filling; the plan has 0 kettles for it.",
        plan=lambda plan: without_task(plan, "L2-kettle"),
    ),
    Planted(
        name="cooked too short",
        rule="kettle",
        message="Load L2: batch tomatoes cooks 25 min with somebody at it; the plan gives 24.",
        plan=lambda plan: change_task(plan, "L2-kettle", start=171),
    ),
    Planted(
        name="cooked too early",
        rule="kettle",
        message="Load L2: batch tomatoes is cooked at 09:14, but filled from 09:15.",
        plan=lambda plan: change_task(plan, "L2-kettle", start=169, end=194),
    ),
    Planted(
        name="no such kettle",
        rule="kettle",
        message="Load L2: there is no kettle None.",
        plan=lambda plan: change_task(plan, "L2-kettle", kettle_id=None),
    ),
    Planted(
        name="a kettle too small",
        rule="kettle",
        message="Load L2: Tall pot holds 3.9 qt; batch tomatoes needs 4.",
        day={"kettles": (Kettle(id="pot", name="Tall pot", volume_qt=3.9, burner_id="small"),)},
    ),
    Planted(
        name="one kettle twice at once",
        rule="kettle",
        message="Tall pot is needed for loads L1 and L2 at 08:50.",
        plan=lambda plan: replace(
            plan,
            tasks=(
                *plan.tasks,
                replace(
                    next(task for task in plan.tasks if task.id == "L2-kettle"),
                    id="L1-kettle",
                    load_id="L1",
                    batch_id="beans",
                    start=155,
                    end=165,
                ),
            ),
            assignments=(
                *plan.assignments,
                Assignment(task_id="L1-kettle", person_id="cleo", start=155, end=165),
            ),
        ),
        also=frozenset({"burner"}),
    ),
    Planted(
        name="jars forgotten",
        rule="count",
        message="Batch beans has 8 jars; 7 are placed and 0 left out.",
        day={"batches": (replace(BEANS, jars=8), TOMATOES)},
    ),
    Planted(
        name="jars placed and left out",
        rule="count",
        message="Batch beans has 7 jars; 7 are placed and 2 left out.",
        plan=lambda plan: replace(plan, left_out=(leave_out(BEANS, 2),)),
    ),
    Planted(
        name="jars of no batch",
        rule="count",
        message="Load L1 holds jars of batch 'peas', which does not exist.",
        plan=lambda plan: change_portion(plan, "L1", batch_id="peas"),
        also=frozenset({"S12"}),
    ),
    Planted(
        name="no jars",
        rule="count",
        message="Load L1 holds 0 jars of batch beans.",
        plan=lambda plan: change_portion(plan, "L1", jars=0),
        also=frozenset({"S12"}),
    ),
    Planted(
        name="an empty load",
        rule="count",
        message="Load L1 holds no jars.",
        plan=lambda plan: change_load(plan, "L1", portions=()),
        also=frozenset({"S12"}),
    ),
    Planted(
        name="a load twice",
        rule="count",
        message="2 loads have the id 'L1'.",
        plan=lambda plan: replace(plan, loads=(*plan.loads, plan.load("L1"))),
        also=frozenset({"S12", "burner", "canner"}),
    ),
    Planted(
        name="a batch twice in a load",
        rule="count",
        message="Load L1 lists batch beans 2 times.",
        plan=lambda plan: change_load(
            plan,
            "L1",
            portions=tuple(replace(plan.load("L1").portions[0], jars=jars) for jars in (3, 4)),
        ),
    ),
    Planted(
        name="left out of no batch",
        rule="count",
        message="Jars of batch 'peas' are left out; there is no such batch.",
        plan=lambda plan: replace(plan, left_out=(replace(leave_out(BEANS, 1), batch_id="peas"),)),
    ),
    Planted(
        name="fewer than no jars left out",
        rule="count",
        message="-1 jars of batch beans are left out.",
        day={"batches": (replace(BEANS, jars=6), TOMATOES)},
        plan=lambda plan: replace(plan, left_out=(leave_out(BEANS, -1),)),
        also=frozenset({"levels"}),
    ),
    Planted(
        name="left out without a reason",
        rule="count",
        message="Jars of batch beans are left out without a reason.",
        day={"batches": (replace(BEANS, jars=8), TOMATOES)},
        plan=lambda plan: replace(plan, left_out=(replace(leave_out(BEANS, 1), reason=""),)),
    ),
)
def test_a_planted_violation_is_found(planted: Planted) -> None:
    found = planted.found()
    assert (planted.rule, planted.message) in found
    assert {rule for rule, _ in found} == {planted.rule} | planted.also


def test_meat_that_is_cleaned_up_after_by_the_cut_off_is_clean() -> None:
    day = make_day(batches=(STEW, TOMATOES), policy=Policy(meat_cut_off=352))
    assert judge(day, restated(day, cleaned(make_plan(day)))) == ()


def test_jars_left_out_with_a_reason_are_clean() -> None:
    day = make_day(batches=(replace(BEANS, jars=8), TOMATOES))
    plan = replace(make_plan(make_day()), left_out=(leave_out(BEANS, 1),))
    assert judge(day, restated(day, plan)) == ()


def test_without_tables_a_warning_is_enough() -> None:
    day = make_day(tables=())
    plan = change_load(change_load(make_plan(day), "L1", stand=None), "L2", stand=None)
    assert judge(day, replace(plan, warnings=("No cooling table is listed.",))) == ()


def test_yesterdays_jars_count_only_as_long_as_they_stand() -> None:
    yesterday = make_day().tables[0].taken
    tight = CoolingTable(id="oak", name="Oak table", area_sq_in=402.0, taken=yesterday)
    day = make_day(tables=(tight,))
    assert judge(day, make_plan(day)) == ()


LATE = replace(BEANS, id="late", prep_person_minutes_per_jar=2.0)
AFTER_BEANS = make_day(batches=(BEANS, LATE), tables=(replace(make_day().tables[0], area_sq_in=1000.0),))
AFTER_MEAT = replace(AFTER_BEANS, batches=(STEW, LATE))


def test_the_next_load_may_be_filled_the_minute_the_canner_is_free() -> None:
    assert judge(AFTER_BEANS, make_plan_on_one_canner(AFTER_BEANS, filled_after=0)) == ()


def test_the_next_load_is_not_filled_a_minute_before_the_canner_is_free() -> None:
    found = judge(AFTER_BEANS, make_plan_on_one_canner(AFTER_BEANS, filled_after=-1))
    assert ("S10", "Load L2: filling begins at 10:46, but Old Grey is ready at 10:47.") in _said(found)
    assert {violation.rule for violation in found} == {"S10", "burner", "people"}


def test_after_meat_the_next_load_is_filled_when_the_cleaning_ends() -> None:
    plan = cleaned(make_plan_on_one_canner(AFTER_MEAT, filled_after=15))
    assert judge(AFTER_MEAT, restated(AFTER_MEAT, plan)) == ()


def test_after_meat_the_next_load_is_not_filled_before_the_cleaning_ends() -> None:
    plan = cleaned(make_plan_on_one_canner(AFTER_MEAT, filled_after=14))
    found = judge(AFTER_MEAT, restated(AFTER_MEAT, plan))
    assert ("S15", "Load L1: load L2 is filled from 12:06, before the cleaning ends.") in _said(found)
    assert {violation.rule for violation in found} == {"S15", "people"}


def _said(found: tuple[Violation, ...]) -> list[tuple[str, str]]:
    return [(violation.rule, violation.message) for violation in found]


def test_jars_may_wait_exactly_as_long_as_the_kitchen_allows() -> None:
    day = make_day(policy=Policy(fill_wait_limit_minutes=15))
    assert judge(day, make_plan(day)) == ()


def test_a_fill_may_take_exactly_the_minutes_it_needs() -> None:
    day = make_day()
    assert judge(day, restated(day, change_task(make_plan(day), "L1-fill", start=170))) == ()


def test_one_person_may_fill_and_one_may_prepare() -> None:
    day = make_day(batches=(replace(BEANS, prep_person_minutes_per_jar=5.0), TOMATOES))
    plan = change_task(change_task(make_plan(day), "L1-fill", hands=1), "L1-prep", hands=1)
    assert judge(day, plan) == ()


def test_a_kettle_may_be_exactly_full() -> None:
    day = make_day(kettles=(Kettle(id="pot", name="Tall pot", volume_qt=4.0, burner_id="small"),))
    assert judge(day, make_plan(day)) == ()


def test_after_meat_the_next_load_is_not_filled_at_once() -> None:
    plan = cleaned(make_plan_on_one_canner(AFTER_MEAT, filled_after=0))
    found = judge(AFTER_MEAT, restated(AFTER_MEAT, plan))
    assert ("S15", "Load L1: load L2 is filled from 11:52, before the cleaning ends.") in _said(found)
