"""Rules S1, S2, S3, S7 and S14: a planted violation of each, and what is allowed."""

from __future__ import annotations

from dataclasses import replace

from scheduler.canner_kind import CannerKind
from scheduler.jars import SHAPES, JarSize, Pack
from scheduler.judge import judge
from scheduler.plan import Plan, Portion
from scheduler.problem import Batch, Day, Policy
from scheduler.process import find_processes
from scheduler.rack import water_jars
from tests.factories.days import (
    BEANS,
    BLUE,
    GREY,
    TOMATOES,
    change_load,
    change_portion,
    make_day,
    make_plan,
    restated,
)
from tests.factories.planted import Planted, table

CRUSHED = replace(TOMATOES, food_id="tomatoes_crushed")
CRUSHED_KEY = "tomatoes_crushed:boiling_water:hot:pint:1001-3000ft:40min:0.5in"
SAUERKRAUT = replace(TOMATOES, food_id="sauerkraut")
SAUERKRAUT_KEY = "sauerkraut:boiling_water:hot:pint:1001-3000ft:15min:0.5in"
SAUCE = replace(BEANS, food_id="applesauce", pack=Pack.HOT, jar=JarSize.PINT)
"""8 minutes at 7 lb: the jars are sterilised first."""
BEANS_KEY = "snap_beans:pressure_dial:raw:quart:2001-4000ft:25min:12psi:1.0in"
PINT_KEY = "snap_beans:pressure_dial:raw:pint:2001-4000ft:20min:12psi:1.0in"
CONFIRMED = Policy(confirmed_processes=frozenset({CRUSHED_KEY, SAUERKRAUT_KEY}))
FEW = replace(BEANS, jars=4)
PINTS = Batch(
    id="pints",
    member="Rosa Lind",
    food_id="snap_beans",
    pack=Pack.RAW,
    jar=JarSize.PINT,
    jars=2,
    arrival=120,
    pickup=400,
    prep_person_minutes_per_jar=0.0,
    kettle_minutes=0,
)
MEASURED = replace(
    GREY,
    own_heat_up_minutes=15,
    own_pressure_up_minutes=5,
    own_cool_down_minutes={JarSize.PINT: 45, JarSize.QUART: 45},
)
"""Its times are measured, and so the same whether pints stand beside the quarts or not."""
SHARED = {"batches": (FEW, TOMATOES, PINTS), "canners": (MEASURED, BLUE)}


def with_pints(plan: Plan) -> Plan:
    """Two pints, of 20 minutes, beside four quarts of 25."""
    load = plan.load("L1")
    pints = Portion(batch_id="pints", jars=2, process_key=PINT_KEY, headspace_in=1.0, sterilise_jars=False)
    together = {JarSize.QUART: 4, JarSize.PINT: 2}
    assert load.stand is not None
    area = sum(count * (SHAPES[jar].diameter_in + 1) ** 2 for jar, count in together.items())
    return change_load(
        plan,
        "L1",
        portions=(*load.portions, pints),
        water_jars=water_jars(MEASURED, together, process_minutes=25),
        stand=replace(load.stand, area_sq_in=area),
    )


@table(
    Planted(
        name="a row that is not printed",
        rule="S1",
        message="Load L1: no published row is named 'made:up'.",
        plan=lambda plan: change_portion(plan, "L1", process_key="made:up"),
    ),
    Planted(
        name="a row for another altitude",
        rule="S1",
        message=f"Load L1: {BEANS_KEY} is not printed for batch beans (snap_beans, raw pack, quart) in Old Grey at "
        "4001 ft.",
        day={"altitude_ft": 4001},
    ),
    Planted(
        name="an altitude outside every band",
        rule="S1",
        message="Load L1: The altitude is 8001 ft; the published bands used here run from 0 to 8,000 ft.",
        day={"altitude_ft": 8001},
    ),
    Planted(
        name="a smaller jar's row",
        rule="S1",
        message=f"Load L1: {PINT_KEY} is not printed for batch beans (snap_beans, raw pack, quart) in Old Grey at "
        "2500 ft.",
        plan=lambda plan: change_load(
            change_portion(plan, "L1", process_key=PINT_KEY), "L1", process_minutes=20
        ),
    ),
    Planted(
        name="the other pack's row",
        rule="S1",
        message=f"Load L1: {BEANS_KEY.replace('raw', 'hot')} is not printed for batch beans (snap_beans, raw pack, "
        "quart) in Old Grey at 2500 ft.",
        plan=lambda plan: change_portion(plan, "L1", process_key=BEANS_KEY.replace("raw", "hot")),
    ),
    Planted(
        name="a row seen once, not confirmed",
        rule="S1",
        message=f"Load L2: {CRUSHED_KEY} was seen on one page only and no lead has confirmed it.",
        made_for={"batches": (BEANS, CRUSHED)},
    ),
    Planted(
        name="a row from memory, confirmed or not",
        rule="S1",
        message=f"Load L2: {SAUERKRAUT_KEY} is from memory only and is never scheduled.",
        made_for={"batches": (BEANS, SAUERKRAUT), "policy": CONFIRMED},
    ),
    Planted(
        name="too little headspace",
        rule="S1",
        message="Load L1: batch beans needs 1 in of headspace; the plan says 0.5 in.",
        plan=lambda plan: change_portion(plan, "L1", headspace_in=0.5),
    ),
    Planted(
        name="no such food",
        rule="S1",
        message="Load L1: No food is called 'moon_beans' in the published tables.",
        day={"batches": (replace(BEANS, food_id="moon_beans"), TOMATOES)},
    ),
    Planted(
        name="two times in one load",
        rule="S2",
        message="Load L1 mixes jars that need different processes: dial-gauge pressure canner, 12 lb for 20 min and "
        "dial-gauge pressure canner, 12 lb for 25 min.",
        plan=with_pints,
        made_for=SHARED,
    ),
    Planted(
        name="less time than printed",
        rule="S3",
        message="Load L1 runs pressure_dial, 12 lb for 20 min; the printed line is pressure_dial, 12 lb for 25 min, "
        "and is taken whole.",
        plan=lambda plan: change_load(plan, "L1", process_minutes=20),
    ),
    Planted(
        name="the time of one line with the pressure of another",
        rule="S3",
        message="Load L1 runs pressure_dial, 7 lb for 25 min; the printed line is pressure_dial, 12 lb for 25 min, "
        "and is taken whole.",
        plan=lambda plan: change_load(plan, "L1", pressure_psi=7.0),
    ),
    Planted(
        name="another method's name",
        rule="S3",
        message="Load L2 runs pressure_dial, 40 min; the printed line is boiling_water, 40 min, and is taken whole.",
        plan=lambda plan: change_load(plan, "L2", method="pressure_dial"),
    ),
    Planted(
        name="low-acid food in boiling water",
        rule="S7",
        message="Load L2: batch tomatoes is low-acid food and must be canned under pressure; Big Blue is a "
        "boiling-water canner.",
        day={"batches": (BEANS, replace(TOMATOES, food_id="snap_beans"))},
        also=frozenset({"S1"}),
    ),
    Planted(
        name="an unknown food in boiling water",
        rule="S7",
        message="Load L2: batch tomatoes is low-acid food and must be canned under pressure; Big Blue is a "
        "boiling-water canner.",
        day={"batches": (BEANS, replace(TOMATOES, food_id="moon_beans"))},
        also=frozenset({"S1"}),
    ),
    Planted(
        name="90 minutes in a steam canner",
        rule="S7",
        message="Load L2 runs 90 min in Big Blue; a steam canner may run 45 min at most.",
        made_for={"batches": (BEANS, replace(TOMATOES, food_id="tomatoes_whole_in_juice"))},
        day={"canners": (GREY, replace(BLUE, kind=CannerKind.STEAM))},
        also=frozenset({"S1"}),
    ),
    Planted(
        name="jars for a short process not sterilised",
        rule="S14",
        message="Load L1: jars of batch beans must be sterilised first, for the process takes only 8 min.",
        made_for={"batches": (SAUCE, TOMATOES)},
        plan=lambda plan: change_portion(plan, "L1", sterilise_jars=False),
    ),
    Planted(
        name="no acid",
        rule="S14",
        message="Load L2: each jar of batch tomatoes needs 1 tbsp bottled lemon juice or 1/4 tsp citric acid; the plan "
        "says none.",
        plan=lambda plan: change_portion(plan, "L2", acid=()),
    ),
    Planted(
        name="less acid",
        rule="S14",
        message="Load L2: each jar of batch tomatoes needs 1 tbsp bottled lemon juice or 1/4 tsp citric acid; the plan "
        "says 1 tsp bottled lemon juice.",
        plan=lambda plan: change_portion(plan, "L2", acid=("1 tsp bottled lemon juice",)),
    ),
)
def test_a_planted_violation_is_found(planted: Planted) -> None:
    found = planted.found()
    assert (planted.rule, planted.message) in found
    assert {rule for rule, _ in found} == {planted.rule} | planted.also


def test_a_row_seen_once_may_run_when_a_lead_confirmed_it() -> None:
    day = make_day(batches=(BEANS, CRUSHED), policy=CONFIRMED)
    assert judge(day, make_plan(day)) == ()


def test_a_jar_may_borrow_the_next_larger_printed_jars_row() -> None:
    day = make_day(batches=(BEANS, replace(TOMATOES, jar=JarSize.TWELVE_OUNCE)))
    plan = make_plan(day)
    assert "pint" in plan.load("L2").portions[0].process_key
    assert judge(day, plan) == ()


def _shared(day: Day) -> Plan:
    return restated(day, with_pints(make_plan(day)))


def test_jars_may_share_under_the_longest_time_when_the_kitchen_says_so() -> None:
    day = make_day(**SHARED, policy=Policy(share_under_longest=True))
    assert judge(day, _shared(day)) == ()


def test_sharing_never_runs_the_shorter_time() -> None:
    day = make_day(**SHARED, policy=Policy(share_under_longest=True))
    found = judge(day, restated(day, change_load(_shared(day), "L1", process_minutes=20)))
    assert [violation.rule for violation in found] == ["S3"]


def test_every_alternative_line_may_be_taken_whole_and_none_in_part() -> None:
    day = make_day()
    lines = find_processes("tomatoes_whole_in_water", Pack.HOT, JarSize.PINT, CannerKind.DIAL, 2500)
    assert {(line.pressure_psi, line.process_minutes) for line in lines} >= {(7, 15), (12, 10)}
    batch = replace(BEANS, food_id="tomatoes_whole_in_water", pack=Pack.HOT, jar=JarSize.PINT)
    day = make_day(
        batches=(batch, TOMATOES), policy=Policy(confirmed_processes=frozenset(line.key for line in lines))
    )
    plan = make_plan(day)
    assert judge(day, plan) == ()
    for psi, minutes in ((7.0, 10), (12.0, 15), (15.0, 8)):
        if (psi, minutes) != (plan.load("L1").pressure_psi, plan.load("L1").process_minutes):
            mixed = change_load(plan, "L1", pressure_psi=psi, process_minutes=minutes)
            assert [violation.rule for violation in judge(day, mixed)] == ["S3"]


def test_a_steam_canner_may_run_exactly_45_minutes() -> None:
    day = make_day(
        canners=(GREY, replace(BLUE, kind=CannerKind.STEAM)),
        batches=(BEANS, replace(TOMATOES, food_id="tomatoes_whole_in_water")),
    )
    plan = make_plan(day)
    assert plan.load("L2").process_minutes == 45
    assert judge(day, plan) == ()


def test_jars_sterilised_for_a_short_process_are_clean() -> None:
    day = make_day(batches=(replace(SAUCE, kettle_minutes=0), TOMATOES))
    plan = make_plan(day)
    assert plan.load("L1").portions[0].sterilise_jars
    assert judge(day, plan) == ()
