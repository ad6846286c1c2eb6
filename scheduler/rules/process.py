"""What is published for the jars: rules S1, S2, S3, S7 and S14."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.canner import Canner
from scheduler.canner_kind import CannerKind
from scheduler.errors import SchedulerError
from scheduler.printed_process import Confidence, Process
from scheduler.process import STEAM_LIMIT_MINUTES, find_processes, is_low_acid
from scheduler.rules.case import Case, Content, Violation


def check_published(case: Case) -> Iterator[Violation]:
    """S1: a printed row for exactly this food, pack, jar, canner and altitude, and one that may be scheduled."""
    for load, canner in case.on_canners():
        for content in case.contents(load):
            problem = _row_problem(case, canner, content)
            if problem is not None:
                yield Violation(rule="S1", message=f"Load {load.id}: {problem}", load_id=load.id)


def check_one_process(case: Case) -> Iterator[Violation]:
    """S2: jars of one load agree in method, pressure and minutes; in minutes not when the kitchen shares."""
    for load in case.plan.loads:
        rows = [content.process for content in case.contents(load) if content.process is not None]
        families = {(row.method, row.pressure_psi) for row in rows}
        minutes = {row.process_minutes for row in rows}
        if len(families) > 1 or (len(minutes) > 1 and not case.day.policy.share_under_longest):
            asked = " and ".join(sorted({f"{row.method.words}, {row.words}" for row in rows}))
            yield Violation(
                rule="S2",
                message=f"Load {load.id} mixes jars that need different processes: {asked}.",
                load_id=load.id,
            )


def check_whole_line(case: Case) -> Iterator[Violation]:
    """S3: the load's method, pressure and minutes are those of one printed line, taken whole."""
    for load in case.plan.loads:
        rows = [content.process for content in case.contents(load) if content.process is not None]
        if not rows:
            continue
        line = max(rows, key=lambda row: row.process_minutes)
        if (load.method, load.pressure_psi, load.process_minutes) != _line(line):
            pressure = "" if load.pressure_psi is None else f"{load.pressure_psi:g} lb for "
            yield Violation(
                rule="S3",
                message=f"Load {load.id} runs {load.method}, {pressure}{load.process_minutes} min; the printed line "
                f"is {line.method}, {line.words}, and is taken whole.",
                load_id=load.id,
            )


def check_acid_and_pressure(case: Case) -> Iterator[Violation]:
    """S7: low-acid food only under pressure; a steam canner runs 45 minutes at most."""
    for load, canner in case.on_canners():
        for content in case.contents(load):
            if content.batch is not None and not canner.kind.is_pressure and _low_acid(content.batch.food_id):
                yield Violation(
                    rule="S7",
                    message=f"Load {load.id}: batch {content.batch.id} is low-acid food and must be canned under "
                    f"pressure; {canner.name} is a {canner.kind.words}.",
                    load_id=load.id,
                )
        minutes = max(load.process_minutes, case.full_minutes(load) or load.process_minutes)
        if canner.kind is CannerKind.STEAM and minutes > STEAM_LIMIT_MINUTES:
            yield Violation(
                rule="S7",
                message=f"Load {load.id} runs {minutes} min in {canner.name}; a steam canner may run "
                f"{STEAM_LIMIT_MINUTES} min at most.",
                load_id=load.id,
            )


def check_jars_made_ready(case: Case) -> Iterator[Violation]:
    """S14: jars sterilised where the process is short, and the acid of each jar as the tables say it."""
    for load in case.plan.loads:
        for content in case.contents(load):
            process, portion = content.process, content.portion
            if process is None:
                continue
            if process.sterilise_jars and not portion.sterilise_jars:
                yield Violation(
                    rule="S14",
                    message=f"Load {load.id}: jars of batch {portion.batch_id} must be sterilised first, for the "
                    f"process takes only {process.process_minutes} min.",
                    load_id=load.id,
                )
            acid = tuple(dose.words for dose in process.acid)
            if portion.acid != acid:
                yield Violation(
                    rule="S14",
                    message=f"Load {load.id}: each jar of batch {portion.batch_id} needs "
                    f"{' or '.join(acid) or 'no acid'}; the plan says {' or '.join(portion.acid) or 'none'}.",
                    load_id=load.id,
                )


def _line(process: Process) -> tuple[str, int | None, int]:
    return process.method.value, process.pressure_psi, process.process_minutes


def _row_problem(case: Case, canner: Canner, content: Content) -> str | None:
    portion, batch, process = content.portion, content.batch, content.process
    if process is None:
        return f"no published row is named {portion.process_key!r}."
    if batch is None:
        return None  # The rule "count" says so.
    try:
        lines = find_processes(batch.food_id, batch.pack, batch.jar, canner.kind, case.day.altitude_ft)
    except SchedulerError as refusal:
        return refusal.message
    if process.key not in {line.key for line in lines}:
        return (
            f"{process.key} is not printed for batch {batch.id} ({batch.food_id}, {batch.pack} pack, "
            f"{batch.jar.words}) in {canner.name} at {case.day.altitude_ft:g} ft."
        )
    if process.confidence is Confidence.MEMORY:
        return f"{process.key} is from memory only and is never scheduled."
    if not process.schedulable(case.day.policy.confirmed_processes):
        return f"{process.key} was seen on one page only and no lead has confirmed it."
    if portion.headspace_in != process.headspace_in:
        return (
            f"batch {batch.id} needs {process.headspace_words} of headspace; the plan says "
            f"{portion.headspace_in:g} in."
        )
    return None


def _low_acid(food_id: str) -> bool:
    try:
        return is_low_acid(food_id)
    except SchedulerError:
        # An unknown food has no process (rule S1); until it is known it is taken for the dangerous kind.
        return True
