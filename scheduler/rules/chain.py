"""The work before and after the canner: rules S10, S15, "times" and "kettle"."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from scheduler.cycle import PhaseKind
from scheduler.interval import Span, covered
from scheduler.jars import SHAPES
from scheduler.plan import Load, Task, TaskKind
from scheduler.problem import Batch
from scheduler.rules.case import Case, Content, Violation, minutes_of
from scheduler.rules.usage import clashes, first_gap
from scheduler.work import fill_minutes, prep_minutes


def check_waiting(case: Case) -> Iterator[Violation]:
    """S10: filling starts when the canner is ready, and no filled jar waits longer than the kitchen's limit."""
    limit = case.day.policy.fill_wait_limit_minutes
    for load, canner in case.on_canners():
        fill = case.fill(load)
        if fill is None or not load.phases or load.id in case.begun:
            continue
        waits = load.phases[0].end - fill.start
        if waits > limit:
            yield Violation(
                rule="S10",
                message=f"Load {load.id}: the first jar is filled at {case.clock(fill.start)} and waits {waits} min; "
                f"the kitchen allows {limit}.",
                load_id=load.id,
            )
        for other in case.on_canner(canner.id):
            taken = case.taken(other)
            if other is not load and taken is not None and taken[0] <= fill.start < taken[1]:
                yield Violation(
                    rule="S10",
                    message=f"Load {load.id}: filling begins at {case.clock(fill.start)}, but {canner.name} is ready "
                    f"at {case.clock(other.jars_out)}.",
                    load_id=load.id,
                )


def check_meat_and_fish(case: Case) -> Iterator[Violation]:
    """S15: meat and fish end by the cut-off, stay among themselves, and cleaning follows before the next fill."""
    for load, canner in case.on_canners():
        if not case.meat_or_fish(load) or not load.phases:
            continue
        for problem in chain(
            _alone(case, load),
            () if load.id in case.begun else _cut_off(case, load),
            _cleaning(case, load, canner.id),
        ):
            yield Violation(rule="S15", message=f"Load {load.id}: {problem}", load_id=load.id)


def check_times(case: Case) -> Iterator[Violation]:
    """ "times": the chain from prep to unloading is whole, in order, long enough, and inside the hours."""
    for task in case.plan.tasks:
        if task.load_id not in case.loads:
            yield Violation(rule="times", message=f"Task {task.id} belongs to no load ({task.load_id!r}).")
        if task.end <= task.start:
            yield Violation(
                rule="times",
                message=f"Task {task.id} ends at {case.clock(task.end)}, not after it starts.",
                load_id=task.load_id,
            )
    for load in case.plan.loads:
        for problem in chain(_unloading(case, load), _hours(case, load), *_before(case, load)):
            yield Violation(rule="times", message=f"Load {load.id}: {problem}", load_id=load.id)


def check_kettles(case: Case) -> Iterator[Violation]:
    """ "kettle": hot pack food is cooked in a kettle that holds it, one portion at once, up to the end of the fill."""
    stretches: dict[str, list[tuple[int, int, str]]] = {}
    for load in case.plan.loads:
        fill = case.fill(load)
        for task in case.of_load(load, TaskKind.KETTLE):
            end = task.end if fill is None else max(task.end, fill.end)
            stretches.setdefault(task.kettle_id or "", []).append((max(task.start, case.since), end, load.id))
        for content in () if load.id in case.begun else case.contents(load):
            for problem in _cooking(case, load, content):
                yield Violation(rule="kettle", message=f"Load {load.id}: {problem}", load_id=load.id)
    for kettle_id, uses in stretches.items():
        for one, other, minute in clashes(uses):
            name = case.kettles[kettle_id].name if kettle_id in case.kettles else f"kettle {kettle_id!r}"
            yield Violation(
                rule="kettle",
                message=f"{name} is needed for loads {one} and {other} at {case.clock(minute)}.",
                load_id=other,
            )


def _alone(case: Case, load: Load) -> Iterator[str]:
    if not all(content.meat_or_fish for content in case.contents(load)):
        yield "meat or fish shares the canner with other food."


def _cut_off(case: Case, load: Load) -> Iterator[str]:
    limit = case.day.policy.meat_cut_off
    if limit is not None and load.jars_out > limit:
        yield (
            f"meat or fish is out at {case.clock(load.jars_out)}; the kitchen's cut-off is {case.clock(limit)}."
        )


def _cleaning(case: Case, load: Load, canner_id: str) -> Iterator[str]:
    clean_at = load.jars_out + case.day.policy.cleaning_minutes
    spans = [(task.start, task.end) for task in case.of_load(load, TaskKind.CLEANING)]
    if first_gap(load.jars_out, clean_at, spans) is not None:
        yield f"cleaning must follow from {case.clock(load.jars_out)} to {case.clock(clean_at)}."
    for other in case.on_canner(canner_id):
        taken = None if other.id in case.begun else case.taken(other)
        if taken is not None and load.jars_out <= taken[0] < clean_at:
            yield f"load {other.id} is filled from {case.clock(taken[0])}, before the cleaning ends."


def _fill(case: Case, load: Load) -> Iterator[str]:
    fills = case.of_load(load, TaskKind.FILL)
    if len(fills) != 1:
        yield f"it must be filled once; the plan has {len(fills)} fillings."
        return
    (fill,), most = fills, case.day.policy.fill_hands
    if not 1 <= fill.hands <= most:
        yield f"{fill.hands} hands fill it; 1 to {most} may."
        return
    least = fill_minutes(case.jars(load), fill.hands, case.day.policy.fill_pace)
    if minutes_of(fill) < least:
        yield f"filling takes {fill.hands} hands at least {least} min; the plan gives {minutes_of(fill)}."


def _unloading(case: Case, load: Load) -> Iterator[str]:
    phase = load.phase(PhaseKind.UNLOADING)
    tasks = case.of_load(load, TaskKind.COOLING)
    spans = [(task.start, task.end) for task in tasks if task.hands > 0]
    if phase is not None and first_gap(max(phase.start, case.since), phase.end, spans) is not None:
        yield f"nobody is to lift the jars out from {case.clock(phase.start)} to {case.clock(phase.end)}."


def _hours(case: Case, load: Load) -> Iterator[str]:
    for task in case.work.get(load.id, ()):
        begins = max(task.start, case.since)
        if not _within(begins, task.end, case.day.opening):
            yield (
                f"its {task.kind} from {case.clock(task.start)} to {case.clock(task.end)} is outside opening hours."
            )
    taken, canner = case.taken(load), case.canners.get(load.canner_id)
    if taken is None:
        yield "it has no times in a canner."
        return
    when = f"from {case.clock(taken[0])} to {case.clock(taken[1])}"
    if not _within(max(taken[0], case.since), taken[1], case.day.opening):
        yield f"it takes the canner {when}, outside opening hours."
    # A load that is in a canner comes out of it, in service or not.
    if canner is not None and load.id not in case.begun and not _within(*taken, canner.service):
        yield f"{canner.name} is not in service {when}."


def _before(case: Case, load: Load) -> Iterator[Iterator[str]]:
    """What comes before the canner; over for a load that has begun."""
    if load.id in case.begun:
        return
    yield _fill(case, load)
    for content in case.contents(load):
        if content.batch is not None:
            yield _preparation(case, load, content, content.batch)


def _preparation(case: Case, load: Load, content: Content, batch: Batch) -> Iterator[str]:
    fill = case.fill(load)
    preps, cooking = _tasks(case, load, batch.id)
    for task in (*preps, *cooking, *([fill] if fill else [])):
        if task.start < batch.arrival:
            yield (
                f"its {task.kind} begins at {case.clock(task.start)}; batch {batch.id} arrives at "
                f"{case.clock(batch.arrival)}."
            )
    for due in cooking or ([fill] if fill else []):
        if any(task.end > due.start for task in preps):
            yield f"batch {batch.id} is still in prep when its {due.kind} begins at {case.clock(due.start)}."
    if batch.prep_person_minutes_per_jar > 0 and (preps or not case.is_made_ready(batch.id)):
        yield from _prep(batch, content.portion.jars, preps)


def _prep(batch: Batch, jars: int, preps: list[Task]) -> Iterator[str]:
    if len(preps) != 1:
        yield f"batch {batch.id} needs one prep; the plan has {len(preps)}."
        return
    (prep,) = preps
    if prep.hands < 1:
        yield f"nobody is to prepare batch {batch.id}."
        return
    needed = prep_minutes(batch.prep_person_minutes_per_jar, jars, prep.hands)
    if minutes_of(prep) < needed:
        yield f"prep of batch {batch.id} takes {prep.hands} hands {needed} min; the plan gives {minutes_of(prep)}."


def _cooking(case: Case, load: Load, content: Content) -> Iterator[str]:
    batch = content.batch
    if batch is None:
        return
    _, cooking = _tasks(case, load, batch.id)
    if batch.kettle_minutes <= 0:
        return
    if len(cooking) != 1:
        yield f"batch {batch.id} is cooked once before filling; the plan has {len(cooking)} kettles for it."
        return
    (task,), fill = cooking, case.fill(load)
    if minutes_of(task) < batch.kettle_minutes or task.hands < 1:
        yield (
            f"batch {batch.id} cooks {batch.kettle_minutes} min with somebody at it; the plan gives "
            f"{minutes_of(task)}."
        )
    if fill is not None and task.end != fill.start:
        yield f"batch {batch.id} is cooked at {case.clock(task.end)}, but filled from {case.clock(fill.start)}."
    kettle = case.kettles.get(task.kettle_id or "")
    volume_qt = content.portion.jars * SHAPES[batch.jar].volume_qt
    if kettle is None:
        yield f"there is no kettle {task.kettle_id!r}."
    elif volume_qt > kettle.volume_qt + 1e-6:
        yield f"{kettle.name} holds {kettle.volume_qt:g} qt; batch {batch.id} needs {volume_qt:g}."


def _tasks(case: Case, load: Load, batch_id: str) -> tuple[list[Task], list[Task]]:
    preps = [task for task in case.of_load(load, TaskKind.PREP) if task.batch_id == batch_id]
    return preps, [task for task in case.of_load(load, TaskKind.KETTLE) if task.batch_id == batch_id]


def _within(start: int, end: int, hours: tuple[Span, ...]) -> bool:
    return start >= end or covered(Span(start, end), hours)
