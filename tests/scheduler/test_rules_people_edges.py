"""Rules S9, "people", "hands", "breaks", "shift", "station" and "company" at their edges."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.cycle import PhaseKind
from scheduler.floor_record import Record, floor_of
from scheduler.interval import Span
from scheduler.judge import judge
from scheduler.plan import Phase, Plan, Task, TaskKind
from scheduler.problem import Day, Hands, Person, Policy, Station, StationKind
from tests.factories.changes import Change, at, moved, task, then
from tests.factories.days import (
    OPENING,
    PEOPLE,
    change_load,
    change_task,
    make_day,
    make_plan,
    restated,
    without_task,
)
from tests.factories.floors import NOW, ends_by
from tests.factories.planted import Planted, as_it_was, table

ADA, BEN, CLEO, DINA = PEOPLE
EVE = Person(id="eve", name="Eve Stone", hours=(OPENING,), trained=True)
NED = Person(id="ned", name="Ned Vale", hours=(OPENING,), learning=True)
ALL = (*PEOPLE, EVE, NED)
EVERYBODY: dict[str, object] = {"people": ALL}
ONE_EACH = Policy(canners_per_person=1)
S9 = frozenset({"S9"})


def places(kind: StationKind, *counts: tuple[int, int, int]) -> dict[str, object]:
    """A day on which one station is listed, with so many places from and to a minute."""
    return {
        "stations": (Station(kind=kind, hands=tuple(Hands(span=Span(a, b), count=n) for a, b, n in counts)),)
    }


ONE_PLACE = places(StationKind.CANNER, (120, 600, 1))


def nobody_at(task_id: str) -> Change:
    """Nobody is named for a task."""
    return lambda plan: replace(
        plan, assignments=tuple(one for one in plan.assignments if one.task_id != task_id)
    )


def backwards(plan: Plan) -> Plan:
    """The people are listed the other way round."""
    return replace(plan, assignments=plan.assignments[::-1])


def nobody_watches(plan: Plan) -> Plan:
    """No watch has people."""
    return then(nobody_at("L1-watch"), nobody_at("L2-watch"))(plan)


def handed_over(task_id: str, at_minute: int, until: int) -> Change:
    """Eve takes a watch over from Ada, who stays until then."""
    end = {"L1-watch": 232, "L2-watch": 270}[task_id]
    return then(moved(task_id, "ada", end=until), at(task_id, "eve", at_minute, end))


def cleaned_by(person_id: str) -> Change:
    """The first canner is cleaned after its load."""
    cleaning = Task(id="L1-cleaning", kind=TaskKind.CLEANING, start=287, end=302, hands=1, load_id="L1")
    return then(
        lambda plan: replace(plan, tasks=(*plan.tasks, cleaning)), at("L1-cleaning", person_id, 287, 302)
    )


@table(
    Planted(
        name="nine minutes together",
        rule="S9",
        message="Load L1: the watch is handed over at 09:22 with 9 min together; it takes 10, where a phase ends.",
        day=EVERYBODY,
        plan=handed_over("L1-watch", 202, 211),
    ),
    Planted(
        name="a look in before is no standing together",
        rule="S9",
        message="Load L1: the watch is handed over at 09:20 with 0 min together; it takes 10, where a phase ends.",
        day=EVERYBODY,
        plan=then(handed_over("L1-watch", 200, 200), at("L1-watch", "eve", 181, 182)),
    ),
    Planted(
        name="a stranger at two canners",
        rule="S9",
        message="zoe watches 2 canners at 09:30; the kitchen allows 1.",
        day={"policy": ONE_EACH},
        plan=then(moved("L1-watch", "ada", person_id="zoe"), moved("L2-watch", "ada", person_id="zoe")),
        also=frozenset({"people"}),
    ),
    Planted(
        name="a watch without hands",
        rule="S9",
        message="Load L1: the heat is on from 09:00 to 09:52; the watch runs from 09:00 to 09:52 with 0 hands.",
        plan=task("L1-watch", hands=0),
        also=frozenset({"hands"}),
    ),
    Planted(
        name="a watch where the heat goes off before it is fully on",
        rule="S9",
        message="Load L1: it needs one watch; the plan has 0.",
        plan=lambda plan: change_load(
            without_task(plan, "L1-watch"),
            "L1",
            phases=(
                Phase(kind=PhaseKind.HEAT_UP, start=180, end=205),
                Phase(kind=PhaseKind.PROCESS, start=200, end=205),
            ),
        ),
        also=frozenset({"S4", "S10", "S11", "S12", "S16"}),
    ),
    Planted(
        name="a watch where the process is said to begin before the heat",
        rule="S9",
        message="Load L1: it needs one watch; the plan has 0.",
        plan=lambda plan: change_load(
            without_task(plan, "L1-watch"),
            "L1",
            phases=(
                Phase(kind=PhaseKind.HEAT_UP, start=180, end=205),
                Phase(kind=PhaseKind.PROCESS, start=175, end=230),
            ),
        ),
        also=frozenset({"S4", "S10", "S11", "S12", "S16"}),
    ),
    Planted(
        name="there for no time, where others have to be there as well",
        rule="people",
        message="Ada Brook is at task L1-watch from 09:00 to 09:00; it runs from 09:00 to 09:52.",
        day={"people": (replace(ADA, comes_with="ben"), *PEOPLE[1:])},
        plan=moved("L1-watch", "ada", end=180),
        also=S9,
    ),
    Planted(
        name="a child cleans",
        rule="people",
        message="Dina Holt is under 16 and may not do cleaning (task L1-cleaning).",
        plan=cleaned_by("dina"),
    ),
    Planted(
        name="more watches than the station has people for, and nobody named",
        rule="hands",
        message="Station canner has 1 hands at 09:30; 2 are needed.",
        day={"policy": ONE_EACH, **ONE_PLACE},
        plan=nobody_watches,
        also=S9,
    ),
    Planted(
        name="two at a canner while no phase begins",
        rule="hands",
        message="Station canner has 1 hands at 09:31; 2 are needed.",
        day={**EVERYBODY, **ONE_PLACE},
        plan=then(nobody_at("L2-watch"), handed_over("L1-watch", 211, 221)),
        also=S9,
    ),
    Planted(
        name="somebody who neither learns nor is trained takes a place at the canner",
        rule="hands",
        message="Station canner has 1 hands at 09:00; 2 are needed.",
        day={**EVERYBODY, **ONE_PLACE},
        plan=at("L1-watch", "cleo", 180, 232),
        also=frozenset({"S9", "people"}),
    ),
    Planted(
        name="a trained learner takes a place at the canner",
        rule="hands",
        message="Station canner has 1 hands at 09:01; 2 are needed.",
        day={"people": (*PEOPLE, replace(NED, trained=True)), **ONE_PLACE},
        plan=at("L1-watch", "ned", 181, 232),
    ),
    Planted(
        name="a stranger takes a place at the canner",
        rule="hands",
        message="Station canner has 1 hands at 09:00; 2 are needed.",
        day=ONE_PLACE,
        plan=at("L1-watch", "zoe", 180, 232),
        also=frozenset({"S9", "people"}),
    ),
    Planted(
        name="one hand at a station that is closed already",
        rule="hands",
        message="Station cooling has 0 hands at 10:42; 1 are needed.",
        day=places(StationKind.COOLING, (120, 280, 1)),
    ),
    Planted(
        name="one hand at a station that is not open yet",
        rule="hands",
        message="Station cooling has 0 hands at 10:35; 1 are needed.",
        day=places(StationKind.COOLING, (276, 600, 1)),
    ),
    Planted(
        name="one hand at a station between its hours",
        rule="hands",
        message="Station cooling has 0 hands at 10:42; 1 are needed.",
        day=places(StationKind.COOLING, (284, 600, 1), (120, 282, 1)),
    ),
    Planted(
        name="work before the day's first minute",
        rule="hands",
        message="Station prep has 0 hands at 05:50; 2 are needed.",
        day={**places(StationKind.PREP, (0, 600, 2)), "opening": (Span(-60, 600),)},
        plan=task("L1-prep", start=-10, end=25),
        also=frozenset({"times", "people"}),
    ),
    Planted(
        name="somebody leaves before the others came",
        rule="people",
        message="Task L1-fill (fill for load L1) needs 2 people; too few are named at 08:50.",
        day=EVERYBODY,
        plan=then(moved("L1-fill", "dina", end=170), at("L1-fill", "eve", 171, 175)),
    ),
)
def test_a_planted_violation_is_found(planted: Planted) -> None:
    found = planted.found()
    assert (planted.rule, planted.message) in found
    assert {rule for rule, _ in found} == {planted.rule} | planted.also


def test_a_task_without_hands_at_a_closed_station_is_told_once() -> None:
    day = make_day(**places(StationKind.COOLING, (120, 280, 1)))
    plan = change_task(make_plan(day), "L1-cooling", hands=0)
    assert [one.message for one in judge(day, restated(day, plan)) if one.rule == "hands"] == [
        "Task L1-cooling has 0 hands."
    ]


def test_who_is_somewhere_for_no_time_is_in_one_place() -> None:
    day = make_day()
    plan = at("L2-kettle", "ben", 172, 172)(make_plan(day))
    assert [one.message for one in judge(day, plan) if one.rule == "people"] == [
        "Ben Ruiz is at task L2-kettle from 08:52 to 08:52; it runs from 08:50 to 09:15."
    ]


@pytest.mark.parametrize(
    ("day", "change"),
    [
        pytest.param(
            {**EVERYBODY, **places(StationKind.CANNER, (120, 221, 2), (221, 600, 1))},
            then(moved("L2-watch", "ada", person_id="eve"), handed_over("L1-watch", 207, 221)),
            id="a hand-over that ends as the station loses a place",
        ),
        pytest.param(
            places(StationKind.PREP, (120, 155, 2), (155, 600, 2)), as_it_was, id="spans that touch"
        ),
        pytest.param(
            places(StationKind.FILL, (200, 600, 2), (120, 200, 2)), as_it_was, id="spans not in order"
        ),
        pytest.param(
            places(StationKind.PREP, (120, 163, 2), (163, 600, 1)), as_it_was, id="fewer hands after the work"
        ),
        pytest.param(
            places(StationKind.FILL, (120, 165, 1), (165, 600, 2)),
            as_it_was,
            id="fewer hands before the work",
        ),
        pytest.param(EVERYBODY, handed_over("L1-watch", 207, 217), id="a phase ends as the next one comes"),
        pytest.param(EVERYBODY, handed_over("L2-watch", 215, 230), id="a phase ends as the first one goes"),
        pytest.param(EVERYBODY, at("L1-watch", "eve", 225, 232), id="beside the other to the end"),
        pytest.param(EVERYBODY, at("L1-watch", "eve", 180, 185), id="beside the other at the beginning"),
        pytest.param(
            EVERYBODY,
            then(at("L1-watch", "eve", 180, 185), backwards),
            id="beside the other at the beginning, and listed first",
        ),
        pytest.param(
            EVERYBODY,
            then(handed_over("L1-watch", 207, 217), at("L1-watch", "eve", 185, 190)),
            id="a look in before the hand-over",
        ),
        pytest.param(
            EVERYBODY,
            then(handed_over("L1-watch", 202, 202), at("L1-watch", "eve", 192, 202)),
            id="together in two pieces that touch",
        ),
        pytest.param(
            {"people": (replace(ADA, learning=True), *PEOPLE[1:])}, as_it_was, id="trained and learning more"
        ),
    ],
)
def test_what_is_just_right_is_clean(day: dict[str, object], change: Change) -> None:
    judged = make_day(**day)
    assert judge(judged, restated(judged, change(make_plan(make_day())))) == ()


def test_two_watches_that_touch_need_one_person() -> None:
    day = make_day(policy=ONE_EACH, **ONE_PLACE)
    plan = task("L2-watch", start=232)(nobody_watches(make_plan(make_day())))
    assert {one.rule for one in judge(day, restated(day, plan))} == {"S9"}


def test_a_watch_is_handed_over_where_one_phase_ends_not_where_the_next_begins() -> None:
    """Between them lies a gap, which is a fault of its own."""
    day = make_day(**EVERYBODY)
    plan = handed_over("L2-watch", 213, 227)(make_plan(day))
    phases = [
        replace(one, end=225) if one.kind is PhaseKind.HEAT_UP else one for one in plan.load("L2").phases
    ]
    plan = change_load(plan, "L2", phases=tuple(phases))
    assert "S9" not in {one.rule for one in judge(day, restated(day, plan))}


@pytest.mark.parametrize("kinds", [(PhaseKind.HEAT_UP,), (PhaseKind.PROCESS,), ()])
def test_a_load_without_the_phases_of_its_heat_is_told_by_its_phases(kinds: tuple[PhaseKind, ...]) -> None:
    day = make_day()
    plan = make_plan(day)
    phases = tuple(one for one in plan.load("L1").phases if one.kind in kinds)
    found = {one.rule for one in judge(day, restated(day, change_load(plan, "L1", phases=phases)))}
    assert "S4" in found
    assert "S9" not in found


def test_heat_that_lasts_no_minute_needs_no_watch() -> None:
    day = make_day()
    phases = (
        Phase(kind=PhaseKind.HEAT_UP, start=180, end=190),
        Phase(kind=PhaseKind.PROCESS, start=175, end=180),
    )
    plan = change_load(without_task(make_plan(day), "L1-watch"), "L1", phases=phases)
    assert "S9" not in {one.rule for one in judge(day, restated(day, plan))}


def under_way(now: int, plan: Plan, **day: object) -> tuple[Day, Plan]:
    """The plan's day at that minute, all as planned, with what is filled by then begun."""
    filled = {one.load_id for one in plan.tasks if one.kind is TaskKind.FILL and one.start <= now}
    records = {load.id: Record(ended=ends_by(load, now)) for load in plan.loads if load.id in filled}
    judged = make_day(**{"floor": floor_of(make_day(), plan, now, records), **day})
    return judged, restated(judged, plan)


TAKEN = "Load L1: Ada Brook watches it and is still here; the watch is not handed over at once."
SWITCH = handed_over("L1-watch", NOW, NOW)
LATER = handed_over("L1-watch", 215, 215)
AWAY = replace(ADA, hours=(Span(120, 150), Span(NOW, 600)))


@pytest.mark.parametrize(
    ("now", "change", "day", "is_taken"),
    [
        pytest.param(NOW, SWITCH, EVERYBODY, True, id="taken away"),
        pytest.param(NOW, SWITCH, {"people": (AWAY, *ALL[1:])}, True, id="here from this minute on"),
        pytest.param(
            215, LATER, {**EVERYBODY, "policy": ONE_EACH}, False, id="at the one canner one may watch"
        ),
        pytest.param(215, LATER, EVERYBODY, True, id="at one canner of two"),
        pytest.param(
            215,
            then(LATER, moved("L2-watch", "ada", person_id="eve")),
            EVERYBODY,
            True,
            id="somebody else watches two",
        ),
        pytest.param(
            215,
            then(LATER, moved("L2-watch", "ada", start=240), at("L2-watch", "eve", 210, 250)),
            {**EVERYBODY, "policy": ONE_EACH},
            True,
            id="a watch that comes later",
        ),
        pytest.param(
            200,
            then(handed_over("L1-watch", 200, 200), at("L2-fill", "ada", 195, 205)),
            {**EVERYBODY, "policy": ONE_EACH},
            True,
            id="at another task now",
        ),
        pytest.param(
            200,
            then(handed_over("L1-watch", 200, 200), at("L9-fill", "ada", 195, 205)),
            {**EVERYBODY, "policy": ONE_EACH},
            True,
            id="at a task that does not exist",
        ),
        pytest.param(
            NOW,
            then(moved("L1-watch", "ada", end=NOW), at("L1-watch", "ada", NOW, 232)),
            {},
            False,
            id="goes on",
        ),
        pytest.param(NOW, SWITCH, {**EVERYBODY, **ONE_PLACE}, False, id="no room beside who watches now"),
        pytest.param(
            NOW,
            then(SWITCH, nobody_at("L2-watch")),
            {**EVERYBODY, **ONE_PLACE},
            False,
            id="no room, and nobody comes later",
        ),
        pytest.param(
            NOW,
            SWITCH,
            {**EVERYBODY, **places(StationKind.CANNER, (120, NOW, 5), (NOW, 600, 1))},
            False,
            id="room until now",
        ),
        pytest.param(
            NOW,
            SWITCH,
            {**EVERYBODY, **places(StationKind.CANNER, (120, NOW, 1), (NOW, 600, 2))},
            True,
            id="room from now on",
        ),
        pytest.param(
            NOW,
            then(SWITCH, at("L1-watch", "ned", NOW, 232)),
            {**EVERYBODY, **places(StationKind.CANNER, (120, 600, 2))},
            True,
            id="who learns takes no room",
        ),
        pytest.param(
            NOW,
            then(SWITCH, at("L1-watch", "ada", 220, 232)),
            EVERYBODY,
            True,
            id="comes back later",
        ),
    ],
)
def test_a_watch_is_not_taken_from_somebody_who_could_go_on(
    now: int, change: Change, day: dict[str, object], is_taken: bool
) -> None:
    judged, plan = under_way(now, change(make_plan(make_day())), **day)
    assert (TAKEN in [one.message for one in judge(judged, plan)]) is is_taken


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(
            then(moved("L1-watch", "ada", start=185), at("L1-watch", "eve", 180, 185)), id="left before now"
        ),
        pytest.param(
            then(moved("L1-watch", "ada", start=NOW), at("L1-watch", "zoe", 180, NOW)),
            id="nobody knows who left",
        ),
        pytest.param(at("L1-watch", "ned", 180, NOW), id="somebody who learns left"),
        pytest.param(
            then(moved("L2-kettle", "cleo", start=NOW), at("L2-kettle", "eve", 170, NOW)),
            id="somebody left another task",
        ),
        pytest.param(at("L2-watch", "eve", 180, NOW), id="somebody stood by for a load that has not begun"),
        pytest.param(at("L1-watch", "eve", NOW, 200), id="somebody comes beside"),
    ],
)
def test_nothing_is_taken_from_those_who_need_not_go_on(change: Change) -> None:
    day, plan = under_way(NOW, change(make_plan(make_day())), **EVERYBODY)
    assert judge(day, plan) == ()


def test_once_the_heat_is_off_nobody_asks_for_the_watch() -> None:
    day, plan = under_way(232, without_task(make_plan(make_day()), "L1-watch"))
    assert judge(day, plan) == ()
