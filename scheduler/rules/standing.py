"""After the canner: rules S11 and S12."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.cycle import PhaseKind
from scheduler.jars import SHAPES
from scheduler.plan import Load
from scheduler.problem import LEAST_STAND_MINUTES, MOST_STAND_MINUTES, REPROCESS_WITHIN_MINUTES
from scheduler.rules.case import Case, Violation
from scheduler.rules.usage import Use, overuse

# Rule S12: jars stand at least 1 inch apart. Source: USDA AIB 539, Cooling Jars.
LEAST_GAP_IN = 1.0
# A plan may round the area it states to a tenth of a square inch.
_ROUNDING_SQ_IN = 0.05


def check_calls(case: Case) -> Iterator[Violation]:
    """S11: first call after 12 hours, seal check at 24, reprocess within 24 hours of the end of the process."""
    for load in case.plan.loads:
        process = load.phase(PhaseKind.PROCESS)
        if process is None:
            continue
        for what, stated, wanted in (
            ("first call", load.first_call, load.jars_out + LEAST_STAND_MINUTES),
            ("seal check", load.seal_check, load.jars_out + MOST_STAND_MINUTES),
            ("last start of a reprocess", load.reprocess_by, process.end + REPROCESS_WITHIN_MINUTES),
        ):
            if stated != wanted:
                yield Violation(
                    rule="S11",
                    message=f"Load {load.id}: the {what} is at {case.clock(wanted)}; the plan says "
                    f"{case.clock(stated)}.",
                    load_id=load.id,
                )


def check_stands(case: Case) -> Iterator[Violation]:
    """S12: the jars stand long enough and apart, on a table that has the room."""
    uses: dict[str, list[Use]] = {
        table.id: [(use.span.start, use.span.end, use.area_sq_in) for use in table.taken]
        for table in case.day.tables
    }
    for load in case.plan.loads:
        for problem in _stand(case, load):
            yield Violation(rule="S12", message=f"Load {load.id}: {problem}", load_id=load.id)
        if load.stand is not None and load.stand.table_id in uses:
            uses[load.stand.table_id].append((load.stand.start, load.stand.end, area_sq_in(case, load)))
    for table in case.day.tables:
        over = overuse(uses[table.id], table.area_sq_in)
        if over is not None:
            yield Violation(
                rule="S12",
                message=f"{table.name} has {table.area_sq_in:g} sq in; at {case.clock(over[0])} its jars need "
                f"{over[1]:.1f}.",
            )
    if (
        case.plan.loads
        and not case.day.tables
        and not any("table" in one.lower() for one in case.plan.warnings)
    ):
        yield Violation(rule="S12", message="No cooling table is listed, and no warning says so.")


def area_sq_in(case: Case, load: Load) -> float:
    """What the jars of food take of a table: a square for each jar with the gap to its neighbours."""
    return sum(
        count * (SHAPES[jar].diameter_in + LEAST_GAP_IN) ** 2 for jar, count in case.jars(load).items()
    )


def _stand(case: Case, load: Load) -> Iterator[str]:
    stand = load.stand
    if stand is None:
        if case.day.tables:
            yield "its jars have no cooling table."
        return
    if stand.table_id not in case.tables:
        yield f"there is no cooling table {stand.table_id!r}."
    if load.phases and stand.start != load.jars_out:
        yield f"its jars are out at {case.clock(load.jars_out)}, but stand from {case.clock(stand.start)}."
    least = case.day.policy.cooling_stand_minutes
    if stand.end - stand.start < least:
        yield f"its jars stand {stand.end - stand.start} min; the kitchen lets them stand {least}."
    area = area_sq_in(case, load)
    if not abs(stand.area_sq_in - area) <= _ROUNDING_SQ_IN:
        yield f"its jars need {area:.1f} sq in, 1 in apart; the plan says {stand.area_sq_in:.1f}."
