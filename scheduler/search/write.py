"""A decoded day written out as a plan: phases, tasks, people, stands and what the run sheet must say."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scheduler.caution import CAUTION
from scheduler.interval import Span
from scheduler.jars import JarSize
from scheduler.plan import LeftOut, Level, Load, Phase, Plan, Portion, Provenance, Stand, Task, TaskKind
from scheduler.problem import LEAST_STAND_MINUTES, MOST_STAND_MINUTES, REPROCESS_WITHIN_MINUTES, Day
from scheduler.rack import is_small_load, water_jars
from scheduler.rota.naming import assign
from scheduler.search.placed import Decoded, Piece, Placed
from scheduler.search.stand import area_sq_in


def write_plan(
    day: Day,
    decoded: Decoded,
    *,
    digest: str,
    levels: tuple[Level, ...],
    left_out: tuple[LeftOut, ...],
    warnings: Iterable[str],
    provenance: Provenance,
) -> Plan:
    """The plan of a decoded day, with people named for its tasks."""
    numbered = list(_numbered(decoded.loads))
    loads = tuple(_load(day, placed, number) for placed, number in numbered)
    tasks: list[Task] = []
    watchers: dict[str, int] = {}
    for load, (placed, _) in zip(loads, numbered, strict=True):
        for task in _tasks(day, placed, load):
            tasks.append(task)
            if task.kind is TaskKind.WATCH:
                watchers[task.id] = placed.watcher
    return Plan(
        day_digest=digest,
        loads=loads,
        tasks=tuple(tasks),
        assignments=assign(day, tasks, watchers),
        left_out=left_out,
        levels=levels,
        warnings=(*warnings, *_warnings(day, loads, numbered)),
        caution=CAUTION,
        provenance=provenance,
    )


def _numbered(loads: Sequence[Placed]) -> Iterable[tuple[Placed, int]]:
    """Loads in the order of their fills, each with its number among its canner's loads of the day."""
    counts: dict[int, int] = {}
    for placed in sorted(loads, key=lambda one: (one.start, one.option.canner)):
        counts[placed.option.canner] = counts.get(placed.option.canner, 0) + 1
        yield placed, counts[placed.option.canner]


def _load(day: Day, placed: Placed, number: int) -> Load:
    option = placed.option
    canner = day.canners[option.canner]
    loading = placed.start + option.fill
    phases = tuple(
        Phase(kind=kind, start=span.start, end=span.end) for kind, span in option.cycle.starting_at(loading)
    )
    jars = _jars_in(day, placed.pieces)
    heat_off = loading + option.cycle.heat_off
    stand = None
    if placed.table is not None:
        stand = Stand(
            table_id=day.tables[placed.table].id,
            start=placed.out,
            end=placed.out + day.policy.cooling_stand_minutes,
            area_sq_in=area_sq_in(jars),
        )
    return Load(
        id=f"{canner.id}-{number}",
        canner_id=canner.id,
        number=number,
        portions=tuple(_portion(day, piece) for piece in placed.pieces),
        method=str(option.process.method),
        pressure_psi=option.process.pressure_psi,
        process_minutes=option.process.process_minutes,
        target_reading_psi=option.target_reading_psi,
        phases=phases,
        water_jars=water_jars(canner, jars, process_minutes=option.process.process_minutes),
        stand=stand,
        first_call=placed.out + LEAST_STAND_MINUTES,
        seal_check=placed.out + MOST_STAND_MINUTES,
        reprocess_by=heat_off + REPROCESS_WITHIN_MINUTES,
    )


def _jars_in(day: Day, pieces: Iterable[Piece]) -> dict[JarSize, int]:
    jars: dict[JarSize, int] = {}
    for piece in pieces:
        size = day.batches[piece.batch].jar
        jars[size] = jars.get(size, 0) + piece.jars
    return jars


def _portion(day: Day, piece: Piece) -> Portion:
    process = piece.option.process
    return Portion(
        batch_id=day.batches[piece.batch].id,
        jars=piece.jars,
        process_key=process.key,
        headspace_in=process.headspace_in,
        sterilise_jars=process.sterilise_jars,
        acid=tuple(dose.words for dose in process.acid),
    )


def _tasks(day: Day, placed: Placed, load: Load) -> Iterable[Task]:
    start, option = placed.start, placed.option
    for piece in placed.pieces:
        batch = day.batches[piece.batch]
        name = f"{load.id}:{batch.id}"
        if piece.prep is not None:
            yield _task(name, TaskKind.PREP, Span(*piece.prep), piece.prep_hands, load, batch.id)
        if piece.kettle is not None:
            boil = Span(start - batch.kettle_minutes, start)
            yield _task(name, TaskKind.KETTLE, boil, 1, load, batch.id, day.kettles[piece.kettle].id)
    heat_on = start + option.heat_on
    yield _task(load.id, TaskKind.FILL, Span(start, start + option.fill), option.fill_hands, load)
    yield _task(load.id, TaskKind.WATCH, Span(heat_on, heat_on + option.watch_minutes), 1, load)
    yield _task(
        load.id, TaskKind.COOLING, Span(placed.out - day.policy.unloading_minutes, placed.out), 1, load
    )
    if day.batches[option.batch].meat_or_fish:
        after = Span(placed.out, placed.out + day.policy.cleaning_minutes)
        yield _task(load.id, TaskKind.CLEANING, after, 1, load)


def _task(
    name: str,
    kind: TaskKind,
    span: Span,
    hands: int,
    load: Load,
    batch_id: str | None = None,
    kettle_id: str | None = None,
) -> Task:
    return Task(
        id=f"{name}:{kind}",
        kind=kind,
        start=span.start,
        end=span.end,
        hands=hands,
        load_id=load.id,
        batch_id=batch_id,
        kettle_id=kettle_id,
    )


def _warnings(day: Day, loads: Sequence[Load], numbered: Sequence[tuple[Placed, int]]) -> Iterable[str]:
    if not day.tables:
        yield "No cooling table is listed, so nothing says that there is room for the jars (rule S12)."
    heat = dict.fromkeys(text for placed, _ in numbered for text in placed.option.cycle.warnings)
    yield from heat
    for load, (placed, _) in zip(loads, numbered, strict=True):
        canner = day.canners[placed.option.canner]
        if is_small_load(canner, _jars_in(day, placed.pieces)):
            yield (
                f"Load {load.id} is a small one for {canner.name}: fill it up with {load.water_jars} jars of water"
                " (rule S13)."
            )
