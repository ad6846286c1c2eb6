"""A small harvest day and a plan for it, made by hand: one pressure load and one boiling-water load.

What the tables, the rack and the cycle say is asked of them; every time of the day is written down here.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

from scheduler.canner import Burner, Canner
from scheduler.canner_kind import CannerKind
from scheduler.caution import CAUTION
from scheduler.cycle import Cycle, PhaseKind, cycle_for
from scheduler.digest import day_digest
from scheduler.interval import Span
from scheduler.jars import SHAPES, JarSize, Pack
from scheduler.plan import (
    Assignment,
    LeftOut,
    Level,
    Load,
    Phase,
    Plan,
    Portion,
    Provenance,
    Stand,
    Task,
    TaskKind,
)
from scheduler.printed_process import Process
from scheduler.problem import (
    Batch,
    CoolingTable,
    Day,
    Hands,
    Kettle,
    Person,
    Policy,
    Station,
    StationKind,
    TableUse,
)
from scheduler.process import find_processes
from scheduler.rack import water_jars
from scheduler.score import LEVELS, levels_of

OPENING = Span(120, 600)
"""From 8:00 to 16:00 on the kitchen's wall: the origin is 6:00 there."""

GREY = Canner(
    id="grey",
    name="Old Grey",
    kind=CannerKind.DIAL,
    inside_diameter_in=12.5,
    inside_depth_in=10.5,
    layers=2,
    burner_id="left",
    service=(OPENING,),
    gauge_checked_on=date(2026, 8, 1),
    gauge_error_psi=1.5,
)
"""Its dial reads a pound and a half high, so it is run at 1.5 lb above the process (rule S8)."""

BLUE = Canner(
    id="blue",
    name="Big Blue",
    kind=CannerKind.BOILING_WATER,
    inside_diameter_in=12.25,
    inside_depth_in=10.5,
    burner_id="right",
    service=(OPENING,),
)

BEANS = Batch(
    id="beans",
    member="Rosa Lind",
    food_id="snap_beans",
    pack=Pack.RAW,
    jar=JarSize.QUART,
    jars=7,
    arrival=120,
    pickup=400,
    prep_person_minutes_per_jar=10.0,
    kettle_minutes=0,
)

TOMATOES = Batch(
    id="tomatoes",
    member="Tomas Weir",
    food_id="tomato_juice",
    pack=Pack.HOT,
    jar=JarSize.PINT,
    jars=8,
    arrival=130,
    pickup=560,
    prep_person_minutes_per_jar=2.0,
    kettle_minutes=25,
)
"""An acid food that takes lemon juice or citric acid in every jar (rule S14)."""

PEOPLE = (
    Person(id="ada", name="Ada Brook", hours=(OPENING,), trained=True),
    Person(id="ben", name="Ben Ruiz", hours=(OPENING,)),
    Person(id="cleo", name="Cleo Marsh", hours=(OPENING,)),
    Person(id="dina", name="Dina Holt", hours=(Span(120, 400),), under_16=True),
)


def make_day(**changes: object) -> Day:
    """A kitchen at 2,500 ft on 12 September 2026 with two canners, two batches and four people."""
    day = Day(
        kitchen="Mill Lane kitchen",
        altitude_ft=2500,
        time_zone="America/Denver",
        date=date(2026, 9, 12),
        origin=datetime(2026, 9, 12, 12, tzinfo=UTC),
        opening=(OPENING,),
        canners=(GREY, BLUE),
        burners=tuple(
            Burner(id=name, name=f"The {name} burner", power_w=3517) for name in ("left", "right", "small")
        ),
        batches=(BEANS, TOMATOES),
        kettles=(Kettle(id="pot", name="Tall pot", volume_qt=8.0, burner_id="small"),),
        stations=(Station(kind=StationKind.FILL, hands=(Hands(span=OPENING, count=2),)),),
        people=PEOPLE,
        tables=(
            CoolingTable(
                id="oak",
                name="Oak table",
                area_sq_in=450.0,
                taken=(TableUse(span=Span(0, 400), area_sq_in=100.0),),
            ),
        ),
        policy=Policy(),
    )
    return replace(day, **changes)  # type: ignore[arg-type]  # Whoever changes a field knows its type.


def make_plan(day: Day) -> Plan:
    """A plan that breaks no rule: the first batch in the first canner, the second in the second."""
    (beans, tomatoes), (grey, blue) = day.batches[:2], day.canners[:2]
    loads = (
        make_load(day, "L1", grey, beans, loading=175),
        make_load(day, "L2", blue, tomatoes, loading=205),
    )
    tasks = (
        *_tasks(loads[0], fill=165, prep=(120, 155)),
        *_tasks(loads[1], fill=195, prep=(155, 163), kettle=170),
    )
    return _plan(day, loads, tasks)


def make_plan_on_one_canner(day: Day, *, filled_after: int) -> Plan:
    """Both batches in the first canner, raw packs; ``filled_after`` counts from the first load's jars out."""
    (early, late), canner = day.batches[:2], day.canners[0]
    first = make_load(day, "L1", canner, early, loading=175)
    fill = first.jars_out + filled_after
    second = replace(make_load(day, "L2", canner, late, loading=fill + 10), number=2)
    tasks = (
        *_tasks(first, fill=165, prep=(120, 155)),
        *_tasks(second, fill=fill, prep=(155, 163)),
    )
    return _plan(day, (first, second), tasks)


def with_levels(day: Day, plan: Plan) -> Plan:
    """The same plan with its levels stated as they are, and with bounds of 0."""
    values = levels_of(day, plan.loads, plan.tasks, plan.left_out)
    levels = (
        Level(name=name, value=value, bound=0, bound_name="nothing", unit=unit)
        for (name, unit), value in zip(LEVELS, values, strict=True)
    )
    return replace(plan, levels=tuple(levels))


def restated(day: Day, plan: Plan) -> Plan:
    """The same plan as its planner would state it for ``day``: what is planted elsewhere stands alone."""
    return with_levels(day, replace(plan, day_digest=day_digest(day)))


def change_load(plan: Plan, load_id: str, /, **changes: object) -> Plan:
    """The plan with fields of one load changed."""
    loads = (
        replace(load, **changes) if load.id == load_id else load  # type: ignore[arg-type]  # As for make_day.
        for load in plan.loads
    )
    return replace(plan, loads=tuple(loads))


def change_portion(plan: Plan, load_id: str, /, **changes: object) -> Plan:
    """The plan with fields of a load's first portion changed."""
    first, *others = plan.load(load_id).portions
    changed = replace(first, **changes)  # type: ignore[arg-type]  # As for make_day.
    return change_load(plan, load_id, portions=(changed, *others))


def change_task(plan: Plan, task_id: str, /, **changes: object) -> Plan:
    """The plan with fields of one task changed; whoever is at it follows its times."""
    tasks = {task.id: task for task in plan.tasks}
    changed = replace(tasks[task_id], **changes)  # type: ignore[arg-type]  # As for make_day.
    assignments = (
        replace(one, start=changed.start, end=changed.end) if one.task_id == task_id else one
        for one in plan.assignments
    )
    tasks[task_id] = changed
    return replace(plan, tasks=tuple(tasks.values()), assignments=tuple(assignments))


def change_assignment(plan: Plan, task_id: str, person_id: str, /, **changes: object) -> Plan:
    """The plan with fields of one person's time at a task changed."""
    assignments = (
        replace(one, **changes)  # type: ignore[arg-type]  # As for make_day.
        if (one.task_id, one.person_id) == (task_id, person_id)
        else one
        for one in plan.assignments
    )
    return replace(plan, assignments=tuple(assignments))


def move_edge(plan: Plan, load_id: str, kind: PhaseKind, minutes: int) -> Plan:
    """The plan with the end of one phase and the start of the next moved; the load is as long as before."""
    phases = list(plan.load(load_id).phases)
    index = next(number for number, phase in enumerate(phases) if phase.kind is kind)
    phases[index] = replace(phases[index], end=phases[index].end + minutes)
    phases[index + 1] = replace(phases[index + 1], start=phases[index + 1].start + minutes)
    return change_load(plan, load_id, phases=tuple(phases))


def without_task(plan: Plan, task_id: str) -> Plan:
    """The plan without a task and without the people at it."""
    return replace(
        plan,
        tasks=tuple(task for task in plan.tasks if task.id != task_id),
        assignments=tuple(one for one in plan.assignments if one.task_id != task_id),
    )


def process_of(day: Day, canner: Canner, batch: Batch) -> Process:
    """The first printed line for a batch in a canner."""
    return find_processes(batch.food_id, batch.pack, batch.jar, canner.kind, day.altitude_ft)[0]


def make_load(day: Day, load_id: str, canner: Canner, batch: Batch, *, loading: int) -> Load:
    """All jars of a batch in one load whose loading begins at a minute."""
    process = process_of(day, canner, batch)
    phases = _phases(day, canner, process, batch.jar, loading)
    out = phases[-1].end
    off = next(phase.end for phase in phases if phase.kind == "process")
    psi = process.pressure_psi
    return Load(
        id=load_id,
        canner_id=canner.id,
        number=1,
        portions=(
            Portion(
                batch_id=batch.id,
                jars=batch.jars,
                process_key=process.key,
                headspace_in=process.headspace_in,
                sterilise_jars=process.sterilise_jars,
                acid=tuple(dose.words for dose in process.acid),
            ),
        ),
        method=process.method.value,
        pressure_psi=psi,
        process_minutes=process.process_minutes,
        target_reading_psi=None if psi is None else psi + canner.gauge_error_psi,
        phases=phases,
        water_jars=water_jars(canner, {batch.jar: batch.jars}, process_minutes=process.process_minutes),
        stand=Stand(
            table_id="oak",
            start=out,
            end=out + 1440,
            area_sq_in=batch.jars * (SHAPES[batch.jar].diameter_in + 1) ** 2,
        ),
        first_call=out + 720,
        seal_check=out + 1440,
        reprocess_by=off + 1440,
    )


def leave_out(batch: Batch, jars: int) -> LeftOut:
    """Jars of a batch that found no place."""
    return LeftOut(
        batch_id=batch.id,
        jars=jars,
        code="no-time",
        reason="No canner is free before closing.",
        remedy="Open longer.",
    )


def _plan(day: Day, loads: tuple[Load, ...], tasks: tuple[Task, ...]) -> Plan:
    plan = Plan(
        day_digest=day_digest(day),
        loads=loads,
        tasks=tasks,
        assignments=_assignments(tasks),
        left_out=(),
        levels=(),
        warnings=(),
        caution=CAUTION,
        provenance=Provenance(planner="by hand", seed=0, iterations=0, stopped_because="finished"),
    )
    return with_levels(day, plan)


def _phases(day: Day, canner: Canner, process: Process, jar: JarSize, loading: int) -> tuple[Phase, ...]:
    burner = next(burner for burner in day.burners if burner.id == canner.burner_id)
    cycle: Cycle = cycle_for(
        canner, burner, process, jar, cool_down_setting_minutes=day.policy.cool_down_minutes
    )
    return tuple(
        Phase(kind=kind, start=span.start, end=span.end) for kind, span in cycle.starting_at(loading)
    )


def _tasks(load: Load, *, fill: int, prep: tuple[int, int], kettle: int | None = None) -> tuple[Task, ...]:
    batch_id = load.portions[0].batch_id
    on = next(phase.start for phase in load.phases if phase.kind == "heat_up")
    off = next(phase.end for phase in load.phases if phase.kind == "process")
    pieces = [
        (TaskKind.PREP, *prep, 2, batch_id),
        (TaskKind.FILL, fill, load.phases[0].start, 2, None),
        (TaskKind.WATCH, on, off, 1, None),
        (TaskKind.COOLING, load.phases[-1].start, load.jars_out, 1, None),
    ]
    if kettle is not None:
        pieces.append((TaskKind.KETTLE, kettle, fill, 1, batch_id))
    return tuple(
        Task(
            id=f"{load.id}-{kind}",
            kind=kind,
            start=start,
            end=end,
            hands=hands,
            load_id=load.id,
            batch_id=of_batch,
            kettle_id="pot" if kind is TaskKind.KETTLE else None,
        )
        for kind, start, end, hands, of_batch in pieces
    )


_WHO: dict[str, tuple[str, ...]] = {
    "L1-prep": ("ben", "dina"),
    "L1-fill": ("ben", "dina"),
    "L1-watch": ("ada",),
    "L1-cooling": ("ben",),
    "L2-prep": ("ben", "dina"),
    "L2-kettle": ("cleo",),
    "L2-fill": ("ben", "dina"),
    "L2-watch": ("ada",),
    "L2-cooling": ("cleo",),
}


def _assignments(tasks: tuple[Task, ...]) -> tuple[Assignment, ...]:
    return tuple(
        Assignment(task_id=task.id, person_id=person_id, start=task.start, end=task.end)
        for task in tasks
        for person_id in _WHO[task.id]
    )
