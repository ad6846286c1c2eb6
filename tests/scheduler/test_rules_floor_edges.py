"""A day under way, rule by rule: what lies before now is a fact, what is still to come is judged to the minute."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.cycle import PhaseKind
from scheduler.floor import Begun, Floor, Prepared
from scheduler.floor_record import Record, floor_of
from scheduler.interval import Span
from scheduler.jars import JarSize
from scheduler.judge import judge
from scheduler.plan import Assignment, Plan, Task, TaskKind
from scheduler.problem import Day, Hands, Person, Policy, Station, StationKind
from tests.factories.days import (
    BEANS,
    BLUE,
    GREY,
    OPENING,
    PEOPLE,
    TOMATOES,
    change_assignment,
    change_load,
    change_task,
    make_day,
    make_plan,
    make_plan_on_one_canner,
    restated,
    without_task,
)
from tests.factories.floors import LATER, NOW, as_recorded, ends_by, floor_at, under_way

ADA, BEN, CLEO, DINA = PEOPLE
EVE = Person(id="eve", name="Eve Stone", hours=(OPENING,), trained=True)
PLAN = make_plan(make_day())
L1 = PLAN.load("L1")
MEAT = replace(BEANS, food_id="meat_strips_cubes", meat_or_fish=True)
LATE = replace(BEANS, id="late", prep_person_minutes_per_jar=2.0)
WIDE = (replace(make_day().tables[0], area_sq_in=1000.0),)
WATCHED, COOLING = 232, 240
FILLED = 200
"""The second load's filling runs from 195 to 205."""


def found(day: Day, plan: Plan = PLAN) -> list[tuple[str, str]]:
    """The rule and the message of everything found in the plan as the day has it."""
    recorded = as_recorded(day, plan)
    return [(one.rule, one.message) for one in judge(day, restated(day, recorded))]


def rules(day: Day, plan: Plan = PLAN) -> list[str]:
    """The rules alone."""
    return [rule for rule, _ in found(day, plan)]


def places(kind: StationKind, *counts: tuple[int, int, int]) -> tuple[Station, ...]:
    """A station with so many places from and to a minute."""
    return (Station(kind=kind, hands=tuple(Hands(span=Span(a, b), count=n) for a, b, n in counts)),)


def with_begun(day: Day, load_id: str, **changes: object) -> Day:
    """The day with a begun load told otherwise."""
    assert day.floor is not None
    begun = tuple(
        replace(one, load=replace(one.load, **changes)) if one.load.id == load_id else one  # type: ignore[arg-type]
        for one in day.floor.begun
    )
    return replace(day, floor=replace(day.floor, begun=begun))


@pytest.mark.parametrize(
    "day",
    [
        pytest.param(under_way(287), id="as the last jar is lifted out"),
        pytest.param(
            under_way(NOW, people=(replace(ADA, hours=(Span(185, 600),)), BEN, CLEO, DINA)),
            id="a watcher who was not here from the first minute",
        ),
        pytest.param(under_way(NOW, opening=(Span(185, 600),)), id="opened after the first load was filled"),
        pytest.param(
            under_way(NOW, canners=(replace(GREY, service=()), BLUE)),
            id="a canner out of service, and in use",
        ),
        pytest.param(
            under_way(FILLED, batches=(BEANS, replace(TOMATOES, kettle_minutes=26))),
            id="cooked a minute short",
        ),
        pytest.param(under_way(FILLED, policy=Policy(walking_minutes=3)), id="no time to walk"),
        pytest.param(under_way(NOW, policy=Policy(break_every_minutes=60)), id="no rest"),
        pytest.param(
            under_way(NOW, people=(replace(ADA, most_minutes=60), BEN, CLEO, DINA)),
            id="more than was offered",
        ),
        pytest.param(
            under_way(COOLING, stations=places(StationKind.FILL, (120, 600, 1))), id="two at a place for one"
        ),
        pytest.param(
            under_way(
                WATCHED,
                stations=places(StationKind.CANNER, (120, 600, 1)),
                policy=Policy(canners_per_person=1),
            ),
            id="two watches at once, one of them over now",
        ),
        pytest.param(
            under_way(COOLING, batches=(BEANS, replace(TOMATOES, prep_person_minutes_per_jar=9.0))),
            id="too little prep for what is in the canner",
        ),
    ],
)
def test_what_lies_before_now_is_no_fault(day: Day) -> None:
    assert found(day) == []


@pytest.mark.parametrize(
    ("day", "rule"),
    [
        (
            under_way(NOW, people=(ADA, replace(BEN, cannot=frozenset({StationKind.FILL})), CLEO, DINA)),
            "station",
        ),
        (
            under_way(
                NOW,
                people=(replace(ADA, comes_with="eve"), *PEOPLE[1:], replace(EVE, hours=(Span(120, 269),))),
            ),
            "company",
        ),
    ],
)
def test_where_one_cannot_work_and_with_whom_one_comes_is_judged_all_day(day: Day, rule: str) -> None:
    assert set(rules(day)) == {rule}


def test_a_begun_load_may_have_waited_and_one_to_come_may_not() -> None:
    assert found(under_way(NOW, policy=Policy(fill_wait_limit_minutes=14))) == [
        ("S10", "Load L2: the first jar is filled at 09:15 and waits 15 min; the kitchen allows 14.")
    ]


def test_a_begun_load_may_have_been_loaded_after_its_filling() -> None:
    day = under_way(COOLING)
    assert day.floor is not None
    late = (replace(L1.phases[0], start=176, end=180), *day.floor.begun[0].load.phases[1:])
    quick = replace(day.policy, loading_minutes=4)
    assert "S4" not in rules(replace(with_begun(day, "L1", phases=late), policy=quick))


@pytest.mark.parametrize(
    ("record", "expected"),
    [
        pytest.param({"vent": 200}, ["S4", "S16"], id="a vent"),
        pytest.param({"cool_down": 250}, ["S5", "S16"], id="a cool-down"),
    ],
)
def test_what_was_too_short_is_excused_only_on_hold(record: dict[str, int], expected: list[str]) -> None:
    ended = {**ends_by(L1, 300), **{PhaseKind(name): minute for name, minute in record.items()}}
    assert rules(under_way(300, {"L1": Record(ended=ended)})) == expected
    held = Record(ended=ended, deviation="Too short.", on_hold=True)
    assert rules(under_way(300, {"L1": held})) == []


def test_a_loss_of_pressure_is_excused_only_on_hold() -> None:
    record = Record(ended=ends_by(L1, 300), lost=(210,), reached=213)
    assert rules(under_way(300, {"L1": record})) == ["S6", "S6", "S16"]
    assert rules(under_way(300, {"L1": replace(record, deviation="Lost.", on_hold=True)})) == []


def test_a_heavy_canner_cools_down_as_published_whatever_was_recorded() -> None:
    heavy = {"canners": (replace(GREY, heavy_walled=True), BLUE)}
    ended = ends_by(L1, 300)
    for minutes, expected in ((45, []), (44, ["S5", "S16"])):
        out = {PhaseKind.COOL_DOWN: 232 + minutes, PhaseKind.REST: 290, PhaseKind.UNLOADING: 295}
        record = Record(ended={**ended, **out})
        assert rules(under_way(300, {"L1": record}, **heavy)) == expected


def test_quarts_among_pints_cool_down_as_quarts() -> None:
    """Heavy-walled: 45 minutes for quarts, 30 for pints. Source: the published floors of rule S5."""
    pints = replace(BEANS, id="pints", jar=JarSize.PINT, jars=2, prep_person_minutes_per_jar=0.0)
    day = under_way(300, canners=(replace(GREY, heavy_walled=True), BLUE))
    portions = tuple(
        replace(L1.portions[0], batch_id=name, jars=n) for name, n in (("beans", 5), ("pints", 2))
    )
    phases = list(L1.phases)
    phases[5] = replace(phases[5], end=phases[5].end + 4)
    phases[6] = replace(phases[6], start=phases[5].end)
    day = with_begun(day, "L1", portions=portions, phases=tuple(phases))
    assert "S5" in rules(replace(day, batches=(replace(BEANS, jars=5), TOMATOES, pints)))


def test_a_boil_rests_five_minutes_whatever_was_recorded() -> None:
    load = PLAN.load("L2")
    for minutes, expected in ((5, []), (4, ["S4", "S16"])):
        ended = ends_by(load, LATER)
        off = ended[PhaseKind.PROCESS]
        ended |= {PhaseKind.REST: off + minutes, PhaseKind.UNLOADING: off + 10}
        assert rules(under_way(LATER, {"L2": Record(ended=ended)})) == expected


def test_what_is_in_held_jars_is_known_and_of_others_is_judged() -> None:
    held = Record(ended=ends_by(L1, COOLING), deviation="Run at 10 lb.", on_hold=True)
    day = with_begun(under_way(COOLING, {"L1": held}), "L1", process_minutes=20, target_reading_psi=10.0)
    assert rules(day) == []
    assert set(rules(with_begun(day, "L1", on_hold=False, deviation=None))) == {"S3", "S8"}
    assert rules(with_begun(day, "L2", process_minutes=20)) == ["S3"]


HELD_CONTENTS = [
    pytest.param({"portions": (replace(L1.portions[0], headspace_in=0.5),)}, "S1", id="a headspace"),
    pytest.param({"portions": (replace(L1.portions[0], acid=("1 tbsp vinegar",)),)}, "S14", id="acid"),
    pytest.param({"water_jars": 3}, "S13", id="jars of water"),
    pytest.param({"target_reading_psi": 9.0}, "S8", id="a reading"),
    pytest.param({"process_minutes": 20}, "S3", id="a process"),
]


@pytest.mark.parametrize(("changes", "rule"), HELD_CONTENTS)
def test_of_held_jars_the_record_has_said_it(changes: dict[str, object], rule: str) -> None:
    day = with_begun(under_way(COOLING), "L1", **changes)
    assert rule in rules(day)
    assert rules(with_begun(day, "L1", on_hold=True, deviation="Told by the record.")) == []


def test_of_held_jars_two_pressures_are_no_news() -> None:
    lower = replace(L1.portions[0], batch_id="late", jars=2, process_key=LOWER_KEY, headspace_in=1.0)
    portions = (replace(L1.portions[0], jars=5), lower)
    batches = (replace(BEANS, jars=5), TOMATOES, replace(LATE, jars=2, prep_person_minutes_per_jar=0.0))
    day = replace(with_begun(under_way(COOLING), "L1", portions=portions), batches=batches)
    assert "S2" in rules(day)
    assert rules(with_begun(day, "L1", on_hold=True, deviation="Told by the record.")) == []


def test_of_held_jars_food_in_the_wrong_canner_is_no_news() -> None:
    day = under_way(COOLING, batches=(BEANS, replace(TOMATOES, food_id="snap_beans")))
    assert "S7" in rules(day)
    assert rules(with_begun(day, "L2", on_hold=True, deviation="Told by the record.")) == []


LOWER_KEY = "snap_beans:pressure_dial:raw:quart:0-2000ft:25min:11psi:1.0in"


def test_a_day_under_way_may_hold_a_load_without_times() -> None:
    day = under_way(NOW)
    assert "times" in rules(day, change_load(PLAN, "L2", phases=()))


def not_begun(now: int) -> Day:
    """Nothing has begun but the work before the second load's filling, and now is so late."""
    return make_day(floor=Floor(now=now, prepared=floor_at(NOW).prepared))


ALONE = replace(PLAN, loads=PLAN.loads[1:], tasks=tuple(task for task in PLAN.tasks if task.load_id == "L2"))


@pytest.mark.parametrize(("now", "told"), [(195, []), (196, ["fill"])])
def test_a_filling_may_begin_now_and_not_before(now: int, told: list[str]) -> None:
    said = [message for rule, message in found(not_begun(now), ALONE) if rule == "floor"]
    assert [word for word in ("fill", "it would") for message in said if word in message] == told


@pytest.mark.parametrize(("now", "is_told"), [(205, False), (206, True), (209, True)])
def test_a_loading_may_begin_now_and_not_before(now: int, is_told: bool) -> None:
    said = found(not_begun(now), without_task(ALONE, "L2-fill"))
    assert any(rule == "floor" and "it would begin at 09:25" in message for rule, message in said) is is_told


def test_a_filling_is_not_made_ready_beforehand() -> None:
    fill = next(task for task in PLAN.tasks if task.id == "L2-fill")
    floor = not_begun(FILLED).floor
    assert floor is not None
    day = make_day(floor=replace(floor, prepared=(*floor.prepared, Prepared(task=fill, jars=8))))
    assert ("floor", "Load L2: its fill would begin at 09:15, and it is 09:20.") in found(day, ALONE)


def one_canner_day(
    now: int, day: Day | None = None, *, filled_after: int = 0, both: bool = True
) -> tuple[Day, Plan]:
    """Two loads in the first canner, one after the other, with now in the second."""
    day = day or make_day(batches=(BEANS, LATE), tables=WIDE)
    plan = make_plan_on_one_canner(day, filled_after=filled_after)
    records = {load.id: Record(ended=ends_by(load, now)) for load in (plan.loads if both else plan.loads[:1])}
    return replace(day, floor=floor_of(day, plan, now, records)), plan


def test_a_load_that_is_out_leaves_its_burner_to_the_next() -> None:
    day, plan = one_canner_day(320)
    assert found(day, plan) == []


def test_a_canner_begun_before_it_was_cleaned_is_a_fact() -> None:
    day, plan = one_canner_day(390, make_day(batches=(MEAT, LATE), tables=WIDE), filled_after=14)
    said = [message for rule, message in found(day, plan) if rule == "S15"]
    assert said == ["Load L1: cleaning must follow from 11:52 to 12:07."]


def test_meat_in_a_canner_at_the_cut_off_is_a_fact() -> None:
    day = make_day(batches=(MEAT, TOMATOES), policy=Policy(meat_cut_off=351))
    plan = make_plan(day)
    begun = replace(day, floor=floor_of(day, plan, NOW, {"L1": Record(ended=ends_by(plan.load("L1"), NOW))}))
    said = [message for rule, message in found(begun, plan) if rule == "S15"]
    assert said == ["Load L1: cleaning must follow from 11:52 to 12:07."]


@pytest.mark.parametrize(
    ("recorded", "planned", "clean"), [(1, 2, True), (2, 1, True), (2, 3, False), (3, 1, True)]
)
def test_loads_to_come_are_numbered_past_those_that_have_begun(
    recorded: int, planned: int, clean: bool
) -> None:
    day, plan = one_canner_day(NOW, both=False)
    day = with_begun(day, "L1", number=recorded)
    assert ("canner" not in rules(day, change_load(plan, "L2", number=planned))) is clean


def warm_kettle(plan: Plan, start: int, end: int) -> Plan:
    """The first load's beans are kept warm in the pot."""
    task = Task(
        id="L1-kettle", kind=TaskKind.KETTLE, start=start, end=end, hands=1, load_id="L1", kettle_id="pot"
    )
    at = Assignment(task_id=task.id, person_id="cleo", start=start, end=end)
    return replace(plan, tasks=(*plan.tasks, task), assignments=(*plan.assignments, at))


def test_a_kettle_that_was_in_two_hands_before_now_is_a_fact() -> None:
    plan = warm_kettle(PLAN, 155, 165)
    records = {"L1": Record(ended=ends_by(L1, NOW))}
    day = make_day(floor=floor_of(make_day(), plan, NOW, records))
    assert found(day, plan) == []


def test_jars_are_lifted_out_as_far_as_it_is_still_to_come() -> None:
    day = under_way(284)
    assert day.floor is not None
    begun: Begun = day.floor.begun[0]
    later = tuple(replace(task, start=284) if task.kind is TaskKind.COOLING else task for task in begun.tasks)
    day = replace(day, floor=replace(day.floor, begun=(replace(begun, tasks=later), *day.floor.begun[1:])))
    plan = change_assignment(PLAN, "L1-cooling", "ben", start=284)
    assert found(day, plan) == []


def split(jars: int) -> Plan:
    """So many more jars of tomatoes in a load of their own, for which nobody prepares anything."""
    more = replace(PLAN.load("L2"), id="L3")
    portion = replace(more.portions[0], jars=jars)
    return replace(PLAN, loads=(*PLAN.loads, replace(more, portions=(portion,))))


TASKS = {task.id: task for task in PLAN.tasks}
DONE = replace(TASKS["L2-prep"], id="L3-prep", load_id="L3", start=140, end=150)
"""Prep of tomatoes that is over, for a load that the plan does not hold any more."""


@pytest.mark.parametrize(
    ("now", "prepared", "jars", "is_ready"),
    [
        pytest.param(NOW, (("L2-prep", 8), ("L3-prep", 2)), 2, True, id="just enough"),
        pytest.param(NOW, (("L2-prep", 8), ("L3-prep", 2)), 3, False, id="one jar short"),
        pytest.param(NOW, (("L2-prep", 8),), 1, False, id="all used by the other load"),
        pytest.param(163, (("L2-prep", 8),), 1, False, id="ready this minute, and used by the other load"),
        pytest.param(160, (("L2-prep", 8), ("L3-prep", 2)), 2, True, id="the other load is still in prep"),
        pytest.param(
            160, (("L2-prep", 8), ("L3-prep", 2)), 3, False, id="what is still in prep is not ready"
        ),
        pytest.param(
            195, (("L2-prep", 8), ("L2-kettle", 5), ("L3-prep", 2)), 2, True, id="cooking uses nothing up"
        ),
        pytest.param(
            195, (("L2-prep", 8), ("L2-kettle", 5), ("L3-prep", 2)), 3, False, id="cooking adds nothing"
        ),
        pytest.param(
            NOW, (("L1-prep", 7), ("L2-prep", 8), ("L3-prep", 2)), 2, True, id="beans are no tomatoes"
        ),
        pytest.param(NOW, (("L1-prep", 7), ("L2-prep", 8), ("L3-prep", 2)), 3, False, id="nor ready ones"),
    ],
)
def test_jars_need_no_prep_as_long_as_enough_are_made_ready(
    now: int, prepared: tuple[tuple[str, int], ...], jars: int, is_ready: bool
) -> None:
    tasks = {**TASKS, DONE.id: DONE}
    floor = Floor(now=now, prepared=tuple(Prepared(task=tasks[name], jars=n) for name, n in prepared))
    said = [message for _, message in found(make_day(floor=floor), split(jars))]
    assert ("Load L3: batch tomatoes needs one prep; the plan has 0." not in said) is is_ready


def test_jars_in_a_canner_use_nothing_up_of_what_is_made_ready() -> None:
    """The first load was filled without prep of its own; two more jars of its batch are ready."""
    bare = without_task(PLAN, "L1-prep")
    floor = floor_of(make_day(), bare, NOW, {"L1": Record(ended=ends_by(L1, NOW))})
    ready = replace(TASKS["L1-prep"], id="L3-prep", load_id="L3")
    day = make_day(floor=replace(floor, prepared=(*floor.prepared, Prepared(task=ready, jars=2))))
    more = replace(L1, id="L3", portions=(replace(L1.portions[0], jars=2),))
    said = [message for _, message in found(day, replace(bare, loads=(*bare.loads, more)))]
    assert "Load L3: batch beans needs one prep; the plan has 0." not in said


def test_who_is_under_way_may_have_no_time_to_walk() -> None:
    """Cleo goes from the kettle to the filling at once: that is advice for a day to come only."""
    plan = change_assignment(PLAN, "L2-fill", "ben", person_id="cleo")
    assert found(under_way(NOW, policy=Policy(walking_minutes=1)), plan) == []
    ahead = make_day(policy=Policy(walking_minutes=1))
    assert [one.rule for one in judge(ahead, restated(ahead, plan))] == ["station"]


def test_two_canners_that_shared_a_burner_before_now_are_a_fact() -> None:
    # The second load is out at 280, the first at 287.
    assert found(under_way(284, canners=(GREY, replace(BLUE, burner_id="left")))) == []


def test_a_prep_that_is_planned_is_long_enough_though_enough_is_made_ready() -> None:
    ready = Prepared(task=DONE, jars=8)
    day = make_day(floor=Floor(now=160, prepared=(ready,)))
    short = change_task(PLAN, "L2-prep", start=163, end=164)
    assert ("times", "Load L2: prep of batch tomatoes takes 2 hands 8 min; the plan gives 1.") in found(
        day, short
    )
