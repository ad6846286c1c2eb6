"""The front door: a day in, a plan out, with its proof and its reasons."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from scheduler.digest import day_digest
from scheduler.plan import Level, Plan, Provenance
from scheduler.problem import Day
from scheduler.search.bounds import Bound, bounds_of
from scheduler.search.decode import Decoder
from scheduler.search.explain import left_out
from scheduler.search.improve import EFFORT_PER_SECOND, Outcome, improve, make_ready, simple_orders
from scheduler.search.options import Options, options_of
from scheduler.search.placed import Decoded, Score
from scheduler.search.write import write_plan

PLANNER = "annealed loads 2"
"""Names the way plans are made; it changes when the same question would be answered otherwise."""

LEAST_LIMIT_SECONDS = 5.0
"""A small effort is given this long all the same: a busy machine may take seconds over what is usually a moment, and
the same day and seed should still give the same plan."""

LEVELS = (
    ("jars left out", "jars"),
    ("lateness", "minutes"),
    ("last jar out", "minutes since the day's origin"),
    ("canner time", "minutes"),
    ("loads", "loads"),
    ("changeovers", "changeovers"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How a running search stands: the levels of the best day so far, with their bounds."""

    levels: tuple[Level, ...]
    iterations: int
    elapsed_seconds: float


def plan(
    day: Day,
    *,
    seconds: float,
    seed: int,
    clock: Callable[[], float],
    on_progress: Callable[[Progress], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
) -> Plan:
    """The best plan found for a day: never worse, level by level, than any simple rule.

    ``seconds`` sets the effort, counted in places looked at, so that the same day and seed give the same plan
    on every machine; as wall time, read from ``clock``, it is the limit. ``should_stop`` is asked between
    tries, and the best plan so far is returned. ``provenance.stopped_because`` says which it was: only
    "effort spent" and "proven best" repeat.
    """
    begun = clock()
    options = options_of(day)
    decoder = Decoder(day, options)
    start = min(_simple(day, options, decoder).values(), key=lambda decoded: decoded.score)

    def tell(best: Decoded, iterations: int) -> None:
        if on_progress is not None:
            on_progress(
                Progress(
                    levels=_levels(day, options, best.score),
                    iterations=iterations,
                    elapsed_seconds=clock() - begun,
                )
            )

    def stop() -> str | None:
        if should_stop is not None and should_stop():
            return "asked to stop"
        return "time limit" if clock() - begun >= max(seconds, LEAST_LIMIT_SECONDS) else None

    tell(start, 0)
    ready_at = clock()
    make_ready(decoder)
    begun += clock() - ready_at  # To translate the search, once on a machine, is not to plan.
    outcome = improve(
        decoder,
        start,
        seed=seed,
        effort=int(seconds * EFFORT_PER_SECOND),
        least=_least(bounds_of(day, options, start.score[0])),
        stop=stop,
        on_better=tell,
    )
    return _written(day, options, outcome, seed)


def simple_rules(day: Day) -> dict[str, Plan]:
    """The day as each simple rule would have it, by the rule's name."""
    options = options_of(day)
    decoder = Decoder(day, options)
    return {
        name: _written(day, options, Outcome(decoded, 0, name), 0)
        for name, decoded in _simple(day, options, decoder).items()
    }


def _simple(day: Day, options: Options, decoder: Decoder) -> dict[str, Decoded]:
    longest = [min((option.family[2] for option in row), default=0) for row in options.by_batch]
    return {name: decoder.decode(genes) for name, genes in simple_orders(day, longest).items()}


def _levels(day: Day, options: Options, score: Score) -> tuple[Level, ...]:
    bounds = bounds_of(day, options, score[0])
    return tuple(
        Level(name=name, value=value, bound=min(bound.value, value), bound_name=bound.name, unit=unit)
        for (name, unit), value, bound in zip(LEVELS, score, bounds, strict=True)
    )


def _least(bounds: tuple[Bound, ...]) -> Score:
    left, late, out, minutes, loads, changes = (bound.value for bound in bounds)
    return (left, late, out, minutes, loads, changes)


def _written(day: Day, options: Options, outcome: Outcome, seed: int) -> Plan:
    best = outcome.best
    return write_plan(
        day,
        best,
        digest=day_digest(day),
        levels=_levels(day, options, best.score),
        left_out=left_out(day, options, best),
        warnings=options.out_of_service,
        provenance=Provenance(
            planner=PLANNER, seed=seed, iterations=outcome.iterations, stopped_because=outcome.stopped_because
        ),
    )
