"""A decoded day laid out: loads with their phases, and the tasks that people do for them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scheduler.interval import Span
from scheduler.jars import JarSize
from scheduler.plan import Load, Phase, Portion, Stand, Task, TaskKind
from scheduler.problem import LEAST_STAND_MINUTES, MOST_STAND_MINUTES, REPROCESS_WITHIN_MINUTES, Day
from scheduler.rack import water_jars
from scheduler.search.placed import Decoded, Piece, Placed
from scheduler.search.stand import area_sq_in


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidOut:
    """The loads of a day in the order of their fills, what each was made of, their tasks, and by task who watches."""

    loads: tuple[Load, ...]
    placed: tuple[Placed, ...]
    tasks: tuple[Task, ...]
    watchers: dict[str, int]


def laid_out(day: Day, decoded: Decoded) -> LaidOut:
    """The loads and tasks of a decoded day."""
    numbered = list(_numbered(decoded.loads))
    loads = tuple(_load(day, placed, number) for placed, number in numbered)
    tasks: list[Task] = []
    watchers: dict[str, int] = {}
    for load, (placed, _) in zip(loads, numbered, strict=True):
        for task in _tasks(day, placed, load):
            tasks.append(task)
            if task.kind is TaskKind.WATCH:
                watchers[task.id] = placed.watcher
    return LaidOut(
        loads=loads, placed=tuple(placed for placed, _ in numbered), tasks=tuple(tasks), watchers=watchers
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
    jars = jars_in(day, placed.pieces)
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


def jars_in(day: Day, pieces: Iterable[Piece]) -> dict[JarSize, int]:
    """How many jars of each size are in a load."""
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
